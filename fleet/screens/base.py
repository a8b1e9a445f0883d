"""What every screen shares: the actor behind the request, and forms that answer refusals beside the field."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, cast

from django.contrib import messages
from django.contrib.auth.mixins import LoginRequiredMixin
from django.core.exceptions import BadRequest
from django.forms import BaseForm, ChoiceField, Form
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.http.response import HttpResponseBase
from django.shortcuts import redirect
from django.views.generic import FormView, TemplateView, View

from fleet.common.actor import Actor, Verb, require
from fleet.common.errors import Conflict, Invalid, Refusal
from fleet.models import User
from fleet.selectors.people import actor_for


def actor_of(request: HttpRequest) -> Actor:
    """The actor behind a page request; `request.actor` holds it after the first asking."""
    known = getattr(request, "actor", None)
    if isinstance(known, Actor):
        return known
    assert isinstance(request.user, User)  # noqa: S101 - screens stand behind LoginRequired
    actor = actor_for(request.user, request.session.get("operator_id"))
    request.actor = actor  # type: ignore[attr-defined]
    return actor


class ScreenMixin(LoginRequiredMixin):
    """A page for somebody signed in."""

    request: HttpRequest

    may_come_with_one_time_password = False

    def dispatch(self, request: HttpRequest, *place: Any, **url: Any) -> HttpResponseBase:
        """Somebody with a one-time password does nothing before choosing their own; no text may hold a NUL."""
        if any("\x00" in value for _, values in request.POST.lists() for value in values):
            raise BadRequest("No text holds a NUL.")
        waiting = isinstance(request.user, User) and request.user.must_change_password
        if waiting and not self.may_come_with_one_time_password:
            return redirect("fleet:password")
        return super().dispatch(request, *place, **url)

    @property
    def actor(self) -> Actor:
        """Who is looking."""
        return actor_of(self.request)


class Screen(ScreenMixin, TemplateView):
    """A page that shows something: give `template_name` and `page(**url) -> context`."""

    def page(self, *place: Any, **url: Any) -> dict[str, Any]:
        """The page's own context."""
        raise NotImplementedError

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Frame context and the page's own."""
        return {**super().get_context_data(**kwargs), **self.page(**self.kwargs)}


class FormScreen(ScreenMixin, FormView):
    """A page with a form: `act(data) -> address to go to`. An Invalid or Conflict stands in the form again.

    `verb`, where given, is asked before the form is shown: nobody fills in what will be refused.
    """

    done = ""
    verb: Verb | None = None

    def get(self, request: HttpRequest, *place: Any, **url: Any) -> HttpResponse:
        """The empty form, for those who may use it."""
        if self.verb is not None:
            require(self.actor, self.verb)
        return super().get(request, *place, **url)

    def page(self, *place: Any, **url: Any) -> dict[str, Any]:
        """The page's own context beside the form."""
        return {}

    def act(self, data: dict[str, Any]) -> str:
        """Call one service with the cleaned data; return where to go."""
        raise NotImplementedError

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """Frame context, form and the page's own."""
        return {**super().get_context_data(**kwargs), **self.page(**self.kwargs)}

    def form_valid(self, form: Form) -> HttpResponse:
        """Act; put a refusal's reasons beside their fields."""
        try:
            address = self.act(form.cleaned_data)
        except (Invalid, Conflict) as refusal:
            put_in_form(form, refusal)
            response = self.form_invalid(form)
            response.status_code = refusal.status
            return response
        if self.done:
            messages.success(self.request, self.done)
        return HttpResponseRedirect(address)


def put_in_form(form: Form, refusal: Refusal) -> None:
    """Each reason beside the field it names, the sentence on top."""
    placed = False
    for reason in refusal.reasons:
        if reason.field in form.fields:
            form.add_error(reason.field, reason.beside())
            placed = True
        else:
            form.add_error(None, reason.sentence())
    if not placed or not refusal.reasons:
        form.add_error(None, refusal.sentence)


def offer(form: BaseForm, name: str, choices: Iterable[tuple[object, str]]) -> None:
    """Give a field of choices what this operator may choose from."""
    cast(ChoiceField, form.fields[name]).choices = list(choices)


class CommandScreen(ScreenMixin, View):
    """A button: POST only, `act(**url) -> address`; a refusal becomes a message on the page it came from."""

    done = ""

    def act(self, *place: Any, **url: Any) -> str:
        """Call one service; return where to go."""
        raise NotImplementedError

    def post(self, request: HttpRequest, **url: Any) -> HttpResponse:
        """Act and go on, or go back with the reason."""
        try:
            address = self.act(**url)
        except (Invalid, Conflict) as refusal:
            messages.error(request, " ".join([refusal.sentence, *(r.sentence() for r in refusal.reasons)]))
            return HttpResponseRedirect(request.headers.get("Referer") or "/")
        if self.done:
            messages.success(request, self.done)
        return HttpResponseRedirect(address)
