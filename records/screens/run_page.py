"""The page of a run: its steps to work, or what it came to."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.generic import View

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.errors import Conflict
from fleet.screens.base import ScreenMixin
from records.models import RunState
from records.screens.at_hand_form import AtHandForm
from records.screens.parts import level_of, outcome_words, part_views, told_apart
from records.screens.run_cards import NOTHING_YET, Bench, cards_of, so_far
from records.screens.step_forms import StepForm
from records.selectors.run_sheet import (
    RunSheet,
    StepState,
    colleagues_who_perform,
    may_work_on,
    run_sheet,
)

OPEN = (RunState.OPEN, RunState.PAUSED)


def run_address(run_id: int, step: str = "") -> str:
    """The page of a run, at one of its steps."""
    place = f"#step-{step}" if step else ""
    return reverse("records:run", args=[run_id]) + place


def next_place(sheet: RunSheet) -> str:
    """The page of a run at the step that comes now, or at its end."""
    if sheet.now is None:
        return f"{run_address(sheet.run.pk)}#finish"
    return run_address(sheet.run.pk, sheet.now.step.key)


class RunBase(ScreenMixin, View):
    """What the page and its forms share: a run shown again with the form that was refused."""

    def shown(
        self,
        sheet: RunSheet,
        *,
        bound: StepForm | None = None,
        at_hand: AtHandForm | None = None,
        status: int = 200,
    ) -> HttpResponse:
        """The page of the run."""
        is_open = sheet.run.state in OPEN
        own = self._open(sheet, bound, at_hand) if is_open else self._result(sheet)
        template = "records/run.html" if is_open else "records/run_result.html"
        return render(self.request, template, {**_base(sheet), **own}, status=status)

    def must_work_on(self, sheet: RunSheet) -> None:
        """Refuse (`not_your_run`) whoever may enter nothing here now."""
        if not may_work_on(self.actor, sheet.run):
            raise Conflict(
                "not_your_run",
                "Only whoever has this run in hand enters something, and only while it is open.",
            )

    def _open(self, sheet: RunSheet, bound: StepForm | None, at_hand: AtHandForm | None) -> dict[str, Any]:
        run, actor = sheet.run, self.actor
        editable = may_work_on(actor, run)
        stray = bound if bound is not None and not (editable and _may_show(sheet, bound)) else None
        answering = editable and (sheet.is_provided or bound is not None)
        judged = so_far(sheet)
        bench = Bench(judged, self.request.session, editable=answering, bound=None if stray else bound)
        return {
            "cards": cards_of(sheet, bench),
            "stray": stray,
            "judged": judged,
            "judged_level": level_of(judged.outcome),
            "judged_words": outcome_words(judged.outcome),
            "parts_apart": told_apart(part_views(judged.parts)) if sheet.now is None else ((), ()),
            "editable": editable,
            "at_hand": at_hand or (AtHandForm(sheet) if editable else None),
            "may_perform": actor.may(Verb.PERFORM),
            "is_mine": run.performer_id == actor.user_id,
            "colleagues": colleagues_who_perform(actor, but=run.performer_id) if editable else [],
            "hand_overs": run.hand_overs.select_related("from_user", "to_user"),
            "server_now": now(),
        }

    def _result(self, sheet: RunSheet) -> dict[str, Any]:
        run = sheet.run
        detail = run.verdict_detail
        is_finished = run.state == RunState.FINISHED
        failed = "fail" in (run.verdict, detail.get("measured"))
        return {
            "cards": cards_of(sheet, Bench(so_far(sheet), NOTHING_YET)),
            "parts_apart": told_apart(part_views(detail.get("parts", []))),
            "reason": detail.get("reason", ""),
            "measured": outcome_words(detail["measured"]) if detail.get("measured") else "",
            "level": level_of(run.verdict),
            "outcome": outcome_words(run.verdict),
            "record": getattr(run, "record", None),
            "signatures": run.signatures.order_by("signed_at", "id"),
            "photos": run.photos.all(),
            "may_sign": is_finished and (self.actor.may(Verb.SIGN) or self.actor.may(Verb.INSPECT)),
            "may_abandon": is_finished and self.actor.may(Verb.PERFORM) and not failed,
        }


class RunPage(RunBase):
    """The run: its steps to work, or what it came to."""

    def get(self, request: HttpRequest, run_id: int) -> HttpResponse:
        """Show it."""
        return self.shown(run_sheet(self.actor, run_id))


def _base(sheet: RunSheet) -> dict[str, Any]:
    run = sheet.run
    uses = list(sheet.uses.values())
    return {"sheet": sheet, "run": run, "task": run.task, "zone": run.aircraft.base.zone, "uses": uses}


def _may_show(sheet: RunSheet, bound: StepForm) -> bool:
    """Whether the page has a place for the form of this step now."""
    row = sheet.row(bound.step.key)
    return row is not None and row.state in (StepState.NOW, StepState.DONE)
