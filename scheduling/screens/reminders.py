"""Reminders: one's inbox, how one wants mail, calendar links, and where webhooks go."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.errors import Invalid, Reason
from fleet.quantities import plain_number
from fleet.screens.base import CommandScreen, FormScreen, Screen, offer
from fleet.selectors.aircraft import aircraft_list
from scheduling.due.ladder import STEP_FIELDS
from scheduling.due.terms import IN_MINUTES
from scheduling.due.wording import size_words
from scheduling.jobs import send_reminders
from scheduling.models import Reminder, ReminderChoice
from scheduling.screens.words import base_choices, link
from scheduling.selectors.calendar import calendar_links
from scheduling.selectors.reminders import (
    VIEWS,
    LadderInForce,
    endpoints,
    ladder_for,
    ladders,
    last_messages,
    mail_choice,
    reminders_for,
    zone_of,
)
from scheduling.services.calendar_links import create_link, revoke_link
from scheduling.services.reminder_settings import choose_mail, set_ladder
from scheduling.services.reminders import acknowledge, mark_seen, snooze
from scheduling.services.webhooks import add_endpoint, remove_endpoint, switch_endpoint, try_endpoint

ROWS = 50
LEVELS = {"overdue": "stop", "escalated": "stop", "reached": "stop", "before": "soon"}
NAMES = {"open": "To answer", "put_off": "Put off", "answered": "Answered"}
AHEAD = {"use_hours": "in use before"}
PUT_OFF_DAYS = (("1", "until tomorrow"), ("3", "for 3 days"), ("7", "for a week"), ("14", "for 2 weeks"))


class RemindersScreen(Screen):
    """The inbox; what is shown counts as seen."""

    template_name = "scheduling/reminders.html"

    def page(self) -> dict[str, Any]:
        """One page of the chosen view."""
        view = self.request.GET.get("view", "open")
        view = view if view in VIEWS else "open"
        rows = Paginator(reminders_for(self.actor, view), ROWS).get_page(self.request.GET.get("page"))
        fresh = {row.pk for row in rows.object_list if row.seen_at is None}
        mark_seen(actor=self.actor, reminder_ids=fresh)
        here = reverse("scheduling:reminders")
        return {
            "page": rows,
            "rows": [
                (row, LEVELS.get(row.stage, "unknown"), self._url(row), row.pk in fresh) for row in rows
            ],
            "view": NAMES[view],
            "is_open": view == "open",
            "views": [(NAMES[name], f"{here}?view={name}", self._count(name)) for name in VIEWS],
            "put_off_days": PUT_OFF_DAYS,
            "zone": zone_of(self.actor),
            "may_webhooks": self.actor.may(Verb.EDIT_PEOPLE),
        }

    def _count(self, view: str) -> int | None:
        """How many wait; what is answered is not counted."""
        return None if view == "answered" else reminders_for(self.actor, view).count()

    def _url(self, row: Reminder) -> str:
        if row.task_id is not None:
            return link("records:task", row.task_id)
        return link("scheduling:due-item", row.applicability_id) if row.applicability_id else ""


class AcknowledgeReminders(CommandScreen):
    """Take note of one or of several."""

    done = "Acknowledged."

    def act(self) -> str:
        """Those that are ticked or whose button was pressed."""
        written = map(plain_number, self.request.POST.getlist("reminder"))
        ids = [one for one in written if one is not None]
        if not ids:
            reason = Reason("names none", "reminder", "", "tick at least one")
            raise Invalid("none_ticked", "No reminder was ticked.", reason)
        acknowledge(actor=self.actor, reminder_ids=ids)
        return reverse("scheduling:reminders")


class SnoozeReminder(CommandScreen):
    """Put one off with a reason."""

    done = "Put off; it comes back then, or earlier if it gets worse."

    def act(self, reminder: int) -> str:
        """For the days chosen."""
        days = plain_number(self.request.POST.get("days", "")) or 0
        until = now() + timedelta(days=min(days, 999))
        reason = self.request.POST.get("reason", "")
        snooze(actor=self.actor, reminder_id=reminder, until=until, reason=reason)
        return reverse("scheduling:reminders")


class MailForm(forms.Form):
    """When mail goes out."""

    by_mail = forms.ChoiceField(label="Mail", choices=ReminderChoice.ByMail.choices, widget=forms.RadioSelect)


class ReminderSettings(FormScreen):
    """How one wants mail, and the steps in force."""

    template_name = "scheduling/reminders_settings.html"
    form_class = MailForm
    done = "Kept."

    def get_initial(self) -> dict[str, Any]:
        """The present choice."""
        return {"by_mail": mail_choice(self.actor)}

    def page(self) -> dict[str, Any]:
        """The ladder of every consequence in words."""
        return {
            "ladders": [(one, _steps_in_words(one)) for one in ladders(self.actor)],
            "may_write": self.actor.may(Verb.EDIT_PROGRAMME),
            "may_webhooks": self.actor.may(Verb.EDIT_PEOPLE),
        }

    def act(self, data: dict[str, Any]) -> str:
        """Keep the choice."""
        choose_mail(actor=self.actor, by_mail=data["by_mail"])
        return reverse("scheduling:reminder-settings")


def _steps_in_words(one: LadderInForce) -> list[str]:
    ladder = one.ladder
    lines = [
        f"{', '.join(size_words(STEP_FIELDS[name][0], step) for step in steps)} {AHEAD.get(name, 'before')}"
        for name, steps in ladder.steps.items()
    ]
    every = "day" if ladder.overdue_every_days == 1 else f"{ladder.overdue_every_days} days"
    lines.append(f"to: {', '.join(ladder.to)}; overdue every {every} to: {', '.join(ladder.overdue_to)}")
    if ladder.acknowledge_within_hours:
        lines.append(f"passed on to the director after {ladder.acknowledge_within_hours} h without an answer")
    return lines


class LadderForm(forms.Form):
    """Steps as people write them: numbers or hours, separated by commas."""

    days = forms.CharField(label="Days before", required=False, help_text="for example 30, 14, 7, 1")
    hours = forms.CharField(
        label="Flight hours before", required=False, help_text="for example 25:00, 10:00, 5:00"
    )
    landings = forms.CharField(label="Landings before", required=False)
    cycles = forms.CharField(label="Engine cycles before", required=False)
    overdue_every_days = forms.IntegerField(label="When overdue, again every so many days", min_value=1)
    acknowledge_within_hours = forms.IntegerField(
        label="Pass on to the director when nobody answered within so many hours",
        min_value=0,
        help_text="0: never",
    )
    usual = forms.BooleanField(label="Go back to the usual steps", required=False)


class LadderScreen(FormScreen):
    """The steps for everything with one consequence."""

    template_name = "scheduling/reminders_ladder.html"
    form_class = LadderForm
    done = "The steps are kept; they hold from the next look on."
    verb = Verb.EDIT_PROGRAMME

    @property
    def ladder(self) -> LadderInForce:
        """What is in force."""
        return ladder_for(self.actor, self.kwargs["consequence"])

    def get_initial(self) -> dict[str, Any]:
        """The present steps as people write them."""
        steps = self.ladder.steps
        written = {name: ", ".join(map(str, steps.get(name, []))) for name in STEP_FIELDS}
        read = self.ladder.ladder
        numbers = ("overdue_every_days", "acknowledge_within_hours")
        return written | {name: getattr(read, name) for name in numbers}

    def page(self, consequence: str) -> dict[str, Any]:
        """Whose steps these are."""
        return {"ladder": self.ladder}

    def act(self, data: dict[str, Any]) -> str:
        """Write them, or go back to the usual ones."""
        steps = None if data["usual"] else self._steps(data)
        set_ladder(actor=self.actor, consequence=self.kwargs["consequence"], steps=steps)
        return reverse("scheduling:reminder-settings")

    def _steps(self, data: dict[str, Any]) -> dict[str, Any]:
        """What the form says, over what it does not ask for."""
        written: dict[str, Any] = dict(self.ladder.steps)
        for name in ("days", "hours", "landings", "cycles"):
            parts = [part.strip() for part in data[name].split(",") if part.strip()]
            in_minutes = STEP_FIELDS[name][0] in IN_MINUTES
            numbers = [(part, plain_number(part)) for part in parts]
            written[name] = parts if in_minutes else [part if n is None else n for part, n in numbers]
        spans = ("overdue_every_days", "acknowledge_within_hours")
        return written | {name: data[name] for name in spans}


class CalendarForm(forms.Form):
    """A new link."""

    label = forms.CharField(label="Name", max_length=80, help_text="for example: my phone")
    what = forms.ChoiceField(label="Shows")


class CalendarLinks(FormScreen):
    """One's calendar links; a new one shows its address once."""

    template_name = "scheduling/calendar_links.html"
    form_class = CalendarForm

    def get_form(self, form_class: type[forms.Form] | None = None) -> forms.Form:
        """Own work, a base, or an aircraft."""
        form = super().get_form(form_class)
        places = [(f"base:{code}", f"Everything at {name}") for code, name in base_choices(self.actor)]
        aircraft = [(f"aircraft:{one}", f"Aircraft {one}") for one in aircraft_list(self.actor)]
        offer(form, "what", [("", "My own work and what I plan"), *places, *aircraft])
        form.fields["what"].required = False
        return form

    def page(self) -> dict[str, Any]:
        """Links in force and ended."""
        return {
            "rows": calendar_links(self.actor),
            "zone": zone_of(self.actor),
            "may_webhooks": self.actor.may(Verb.EDIT_PEOPLE),
        }

    def form_valid(self, form: forms.Form) -> HttpResponse:
        """Show the address now; only its digest is kept."""
        kind, _, name = form.cleaned_data["what"].partition(":")
        made = create_link(
            actor=self.actor,
            label=form.cleaned_data["label"],
            base_code=name if kind == "base" else "",
            registration=name if kind == "aircraft" else "",
        )
        place = reverse("scheduling:calendar-feed", args=[made.key])
        address = self.request.build_absolute_uri(place)
        return once_only(self.request, {"kind": "calendar", "name": made.link.label, "secret": address})


class RevokeCalendarLink(CommandScreen):
    """End a link."""

    done = "The link is ended; whoever has its address finds nothing there."

    def act(self, calendar: int) -> str:
        """Only one's own."""
        revoke_link(actor=self.actor, link_id=calendar)
        return reverse("scheduling:calendar-links")


class EndpointForm(forms.Form):
    """A new endpoint."""

    label = forms.CharField(label="Name", max_length=80)
    url = forms.CharField(label="Address", max_length=400, help_text="https://host/path")


class Webhooks(FormScreen):
    """Where webhooks go; a new endpoint shows its secret once."""

    template_name = "scheduling/reminders_webhooks.html"
    form_class = EndpointForm

    def page(self) -> dict[str, Any]:
        """Endpoints and the newest messages."""
        return {
            "rows": endpoints(self.actor),
            "messages_sent": last_messages(self.actor),
            "zone": zone_of(self.actor),
            "may_webhooks": True,
        }

    def form_valid(self, form: forms.Form) -> HttpResponse:
        """Register; a refusal stands in the form again."""
        try:
            made = add_endpoint(
                actor=self.actor, label=form.cleaned_data["label"], url=form.cleaned_data["url"]
            )
        except Invalid as refusal:
            for reason in refusal.reasons:
                form.add_error(reason.field, reason.beside())
            answer = self.form_invalid(form)
            answer.status_code = refusal.status
            return answer
        return once_only(
            self.request, {"kind": "webhook", "name": made.endpoint.label, "secret": made.secret}
        )


class WebhookCommand(CommandScreen):
    """A button beside an endpoint."""

    def change(self, endpoint: int) -> None:
        """What the button does."""
        raise NotImplementedError

    def act(self, endpoint: int) -> str:
        """Do it and stay."""
        self.change(endpoint)
        return reverse("scheduling:webhooks")


class TryWebhook(WebhookCommand):
    """Send a test message."""

    done = "A test message is on its way; look below for what came back."

    def change(self, endpoint: int) -> None:
        """Write it and ring the worker."""
        try_endpoint(actor=self.actor, endpoint_id=endpoint)
        send_reminders.delay_on_commit()


class SwitchWebhook(WebhookCommand):
    """Switch an endpoint on or off."""

    enabled = True

    def change(self, endpoint: int) -> None:
        """As the address says."""
        switch_endpoint(actor=self.actor, endpoint_id=endpoint, enabled=self.enabled)


class RemoveWebhook(WebhookCommand):
    """Take an endpoint away."""

    done = "The endpoint is taken away."

    def change(self, endpoint: int) -> None:
        """With what was still to be sent there."""
        remove_endpoint(actor=self.actor, endpoint_id=endpoint)


def once_only(request: HttpRequest, context: dict[str, Any]) -> HttpResponse:
    """A page with a secret on it: shown now and kept by nobody."""
    answer = render(request, "scheduling/reminders_secret.html", context)
    answer["Cache-Control"] = "no-store"
    return answer
