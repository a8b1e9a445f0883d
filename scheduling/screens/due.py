"""The due list, one due item, and what would change it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from datetime import date
from itertools import groupby
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseBase, JsonResponse
from django.urls import reverse
from django.utils.http import urlencode
from django.views.generic import View

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.wording import MONTHS
from fleet.screens.base import CommandScreen, FormScreen, Screen, ScreenMixin
from fleet.selectors.aircraft import aircraft_list, aircraft_types
from fleet.selectors.people import operator_of
from scheduling.api.due_views import WORKBOOK, as_csv, as_file, paper_of
from scheduling.models import Consequence
from scheduling.reports.due_export import workbook_of
from scheduling.reports.due_list import due_item_pdf
from scheduling.screens.due_forms import (
    IfDoneForm,
    IfFliesForm,
    KeepViewForm,
    LastDoneForm,
    StopForm,
    VariationForm,
    last_done_from,
    named_as_in_form,
)
from scheduling.screens.words import base_choices
from scheduling.selectors.due_item import (
    DueExplained,
    DueRow,
    explain_due,
    page_rows,
    variation_words,
)
from scheduling.selectors.due_list import chapters, counts, exported, filtered, page_of
from scheduling.selectors.due_query import STATES, DueQuery, query_from
from scheduling.selectors.programme import saved_views, without_last_done
from scheduling.selectors.what_if import if_done_on, if_flies
from scheduling.services.applicability import set_last_done, stop_applicability
from scheduling.services.due import raise_due_tasks, refresh_moved
from scheduling.services.saved_views import forget_view, keep_view
from scheduling.services.variations import Grant, grant_variation, withdraw_variation

TABS = (
    ("", "Everything", "all"),
    ("overdue", "Overdue", "overdue"),
    ("due", "Due now", "due"),
    ("due_soon", "Due soon", "due_soon"),
    ("unknown", "Not known", "unknown"),
    ("ok", "Not due yet", "ok"),
)
WINDOWS = ((7, "within 7 days"), (30, "within 30 days"), (90, "within 90 days"), (365, "within a year"))


@dataclass(frozen=True, slots=True)
class Group:
    """Rows of one aircraft or one month; its heading is empty where nothing is grouped."""

    heading: str
    rows: tuple[DueRow, ...]


def grouped(rows: Sequence[DueRow], by: str) -> Iterator[Group]:
    """Neighbours that belong together; the order of the rows stays."""
    if by not in ("aircraft", "date"):
        yield Group("", tuple(rows))
        return
    heading = _aircraft_of if by == "aircraft" else _month_of
    for name, several in groupby(rows, key=heading):
        yield Group(name, tuple(several))


def _aircraft_of(row: DueRow) -> str:
    return row.registration or "In store"


def _month_of(row: DueRow) -> str:
    if row.state in ("overdue", "due"):
        return "Now"
    if row.state == "unknown":
        return "Not known"
    day: date | None = row.projected_day
    return f"{MONTHS[day.month - 1]} {day.year}" if day else "No date"


class DueListScreen(Screen):
    """What falls due, on which aircraft, when and why."""

    template_name = "scheduling/due_list.html"

    def page(self) -> dict[str, Any]:
        """One page of rows, filters, kept views; the counts come apart."""
        refresh_moved(self.actor.operator_id)
        query = query_from(self.request.GET)
        page = page_of(filtered(self.actor, query), query)
        rows = page_rows(self.actor, page.ids, query.sort)
        without_state = {name: value for name, value in query.filters().items() if name != "state"}
        return {
            "groups": list(grouped(rows, query.group)),
            "row_count": len(rows),
            "page": page,
            "query": query,
            "sort": query.sort,
            "tabs": [
                (state, words, count, _with(without_state, state=state)) for state, words, count in TABS
            ],
            "counts_url": f"{reverse('scheduling:due-counts')}?{urlencode(without_state)}",
            "exports": [
                (kind, f"{reverse(f'scheduling:due-{kind}')}?{urlencode(query.filters())}")
                for kind in ("csv", "xlsx", "pdf")
            ],
            "is_filtered": bool(set(query.filters()) - {"sort", "group"}),
            "views": [
                (view, view.owner_id == self.actor.user_id, f"?{urlencode(view.query)}")
                for view in saved_views(self.actor)
            ],
            "keep_form": KeepViewForm(initial={"query": urlencode(query.filters())}),
            "may_raise": self.actor.may(Verb.RAISE_TASK),
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
            **choices(self),
        }


def _with(filters: dict[str, Any], **changes: str) -> str:
    return "?" + urlencode({name: value for name, value in {**filters, **changes}.items() if value})


def choices(screen: ScreenMixin) -> dict[str, Any]:
    """What the filters offer."""
    actor = screen.actor
    return {
        "bases": base_choices(actor),
        "types": list(aircraft_types(actor).values_list("code", "name")),
        "aircraft": [(row.registration, row.registration) for row in aircraft_list(actor)],
        "consequences": [(value, label.capitalize()) for value, label in Consequence.choices],
        "chapters": [(chapter, f"ATA {chapter}") for chapter in chapters(actor)],
        "states": [(value, words.capitalize()) for value, words in STATES.items()],
        "windows": WINDOWS,
        "group_choices": [("aircraft", "By aircraft"), ("date", "By date")],
    }


class DueCounts(ScreenMixin, View):
    """The numbers of the tabs, fetched once the page stands."""

    def get(self, request: HttpRequest) -> JsonResponse:
        """Counts by state under the filters of the query string."""
        return JsonResponse(counts(self.actor, query_from(request.GET)))


class DueFile(ScreenMixin, View):
    """The due list as a file: CSV, XLSX or PDF under the filters of the query string."""

    kind = "csv"

    def get(self, request: HttpRequest) -> HttpResponseBase:
        """The file."""
        refresh_moved(self.actor.operator_id)
        query: DueQuery = query_from(request.GET)
        if self.kind == "pdf":
            return as_file(paper_of(self, query), "application/pdf", "due-list.pdf")
        rows = exported(self.actor, query)
        return as_csv(rows) if self.kind == "csv" else as_file(workbook_of(rows), WORKBOOK, "due-list.xlsx")


class RaiseDueTasks(CommandScreen):
    """Raise the work that the due list demands."""

    def act(self) -> str:
        """Raise it and say what came of it."""
        work = raise_due_tasks(actor=self.actor)
        self.done = f"{len(work.raised)} tasks raised, {len(work.joined)} joined open ones."
        if work.without_procedure:
            self.done += f" Without a procedure: {', '.join(work.without_procedure[:5])}."
        return reverse("scheduling:due-list")


class KeepView(FormScreen):
    """Keep the present filters under a name."""

    template_name = "scheduling/due_list_keep.html"
    form_class = KeepViewForm
    done = "The view is kept."

    def act(self, data: dict[str, Any]) -> str:
        """Keep it and show it."""
        view = keep_view(
            actor=self.actor, name=data["name"], query=data["query"], is_shared=data["is_shared"]
        )
        return f"{reverse('scheduling:due-list')}?{urlencode(view.query)}"


class ForgetView(CommandScreen):
    """Forget a kept view."""

    done = "The view is forgotten."

    def act(self, view_id: int) -> str:
        """Forget it."""
        forget_view(actor=self.actor, view_id=view_id)
        return reverse("scheduling:due-list")


class DueItemMixin(ScreenMixin):
    """A page about one due item."""

    kwargs: dict[str, Any]

    @property
    def found(self) -> DueExplained:
        """The item, explained."""
        if not hasattr(self, "_found"):
            self._found = explain_due(self.actor, self.kwargs["item_id"])
        return self._found

    def address(self) -> str:
        """The page of the item."""
        return reverse("scheduling:due-item", args=[self.kwargs["item_id"]])


class DueItemScreen(DueItemMixin, Screen):
    """One item: why it is due when it is, and what would change it."""

    template_name = "scheduling/due_list_item.html"

    def page(self, item_id: int) -> dict[str, Any]:
        """The item and what this person may do about it."""
        found = self.found
        row = found.row
        return {
            "found": found,
            "row": row,
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
            "may_vary": self.actor.may(Verb.GRANT_VARIATION),
            "open_variations": [
                (one, variation_words(one))
                for one in found.variations
                if not one.used_at and not one.withdrawn_at
            ],
            "if_done": IfDoneForm(),
            "facts": [
                ("Aircraft", row.registration or "in store"),
                ("Last done", found.last_done),
                ("Record", found.proof),
                ("Stops when overdue", row.stops.capitalize()),
                ("ATA", row.ata),
                ("Projected", row.projection),
            ],
        }


class DueItemPaper(DueItemMixin, View):
    """One item on paper."""

    def get(self, request: HttpRequest, item_id: int) -> HttpResponse:
        """The PDF."""
        paper = due_item_pdf(self.found, operator_of(self.actor).name, now())
        return as_file(paper, "application/pdf", f"due-{self.found.row.code}.pdf")


class LastDoneScreen(DueItemMixin, FormScreen):
    """Enter what was last done from the papers."""

    template_name = "scheduling/due_list_last_done.html"
    form_class = LastDoneForm
    done = "The last done is entered."
    verb = Verb.EDIT_PROGRAMME

    def page(self, item_id: int) -> dict[str, Any]:
        """The item beside the form."""
        return {"found": self.found, "row": self.found.row}

    def act(self, data: dict[str, Any]) -> str:
        """Enter it."""
        last_done = last_done_from(data)
        with named_as_in_form(lambda name: name.removeprefix("last_done.")):
            set_last_done(actor=self.actor, applicability_id=self.kwargs["item_id"], last_done=last_done)
        return self.address()


class VaryScreen(DueItemMixin, FormScreen):
    """Grant a permitted variation."""

    template_name = "scheduling/variation_grant.html"
    form_class = VariationForm
    done = "The variation is granted, for this occasion."
    verb = Verb.GRANT_VARIATION

    def page(self, item_id: int) -> dict[str, Any]:
        """The item beside the form."""
        return {"found": self.found, "row": self.found.row}

    def get_form_kwargs(self) -> dict[str, Any]:
        """The limits there are to choose from."""
        return {**super().get_form_kwargs(), "limits": self.found.limits}

    def get_initial(self) -> dict[str, Any]:
        """The limit that governs."""
        return {"path": next(limit.path for limit in self.found.limits if limit.governs)}

    def act(self, data: dict[str, Any]) -> str:
        """Grant it."""
        grant = Grant(self.kwargs["item_id"], data["amount"], data["reason"], data["path"], data["reference"])
        grant_variation(actor=self.actor, grant=grant)
        return self.address()


class WithdrawVariation(CommandScreen):
    """Take a variation back."""

    done = "The variation is withdrawn."

    def act(self, variation_id: int) -> str:
        """With the reason of the dialog."""
        reason = self.request.POST.get("reason", "")
        row = withdraw_variation(actor=self.actor, variation_id=variation_id, reason=reason)
        return reverse("scheduling:due-item", args=[row.applicability_id])


class StopScreen(DueItemMixin, FormScreen):
    """Take an item off the due list."""

    template_name = "scheduling/due_list_stop.html"
    form_class = StopForm
    done = "The item left the due list."
    verb = Verb.EDIT_PROGRAMME

    def page(self, item_id: int) -> dict[str, Any]:
        """The item beside the form."""
        return {"found": self.found, "row": self.found.row}

    def act(self, data: dict[str, Any]) -> str:
        """Stop it."""
        stop_applicability(actor=self.actor, applicability_id=self.kwargs["item_id"], reason=data["reason"])
        return reverse("scheduling:due-list")


class WhatIfScreen(FormScreen):
    """What if an aircraft flies otherwise: the due list as it would be, nothing saved, so nothing is ever posted."""

    http_method_names = ("get", "head", "options")
    template_name = "scheduling/what_if.html"
    form_class = IfFliesForm

    def get_form_kwargs(self) -> dict[str, Any]:
        """The aircraft to choose from; the question stands in the address, so that it can be sent on."""
        kwargs = {**super().get_form_kwargs(), "aircraft": aircraft_list(self.actor)}
        if self.request.GET.get("hours"):
            kwargs["data"] = self.request.GET
        return kwargs

    def page(self) -> dict[str, Any]:
        """The answer, where a question was asked."""
        form = self.get_form()
        if not form.is_bound or not form.is_valid():
            return {"form": form, "answer": None}
        data = form.cleaned_data
        return {
            "form": form,
            "answer": if_flies(self.actor, data["aircraft"], data["hours"], data["landings"]),
        }


class IfDoneScreen(DueItemMixin, Screen):
    """What if an item is done on a day to come."""

    template_name = "scheduling/what_if_done.html"

    def page(self, item_id: int) -> dict[str, Any]:
        """The answer beside the item."""
        form = IfDoneForm(self.request.GET or None)
        is_asked = form.is_bound and form.is_valid()
        answer = if_done_on(self.actor, item_id, form.cleaned_data["day"]) if is_asked else None
        return {"form": form, "answer": answer, "found": self.found, "row": self.found.row}


class UnrecordedScreen(Screen):
    """Items without a last-done."""

    template_name = "scheduling/due_list_unrecorded.html"

    def page(self) -> dict[str, Any]:
        """Those that need one first."""
        rows = without_last_done(self.actor)
        return {
            "rows": [asdict(row) for row in rows],
            "needed": sum(row.is_needed for row in rows),
            "may_edit": self.actor.may(Verb.EDIT_PROGRAMME),
        }
