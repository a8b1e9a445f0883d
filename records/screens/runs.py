"""Performing a run: the page of its steps, and every button on it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.db import transaction
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render
from django.urls import reverse
from django.views.generic import View

from fleet.common.actor import Verb
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound
from fleet.screens.base import CommandScreen, ScreenMixin, put_in_form
from fleet.selectors.people import people
from records.models import RunState
from records.screens.parts import level_of, outcome_words, part_views, told_apart
from records.screens.run_cards import AtHandForm, cards_of, role_field, so_far
from records.screens.step_forms import PhotoForm, StepForm, step_form
from records.screens.timers import Timer, clear, press, pressed_moment, timer_of
from records.selectors.run_sheet import (
    RunSheet,
    StepRow,
    StepState,
    colleagues_who_perform,
    may_work_on,
    run_sheet,
)
from records.selectors.runs import photo_for, run_for
from records.services.finishing import finish_run
from records.services.provisions import NewPhoto, add_photo, hand_over, use_equipment, use_lot
from records.services.runs import Entry, abandon_run, answer_step, pause_run, resume_run

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
        run = sheet.run
        base = {
            "sheet": sheet,
            "run": run,
            "uses": list(sheet.uses.values()),
            "zone": run.aircraft.base.zone,
            "task": run.task,
        }
        if run.state not in OPEN:
            return render(
                self.request, "records/run_result.html", {**base, **self._result(sheet)}, status=status
            )
        editable = may_work_on(self.actor, run)
        judged = so_far(sheet)
        stray = bound if bound is not None and not (editable and _may_show(sheet, bound)) else None
        answering = editable and (sheet.is_provided or bound is not None)
        context = {
            **base,
            "cards": cards_of(
                sheet, judged, self.request.session, editable=answering, bound=None if stray else bound
            ),
            "stray": stray,
            "judged": judged,
            "judged_level": level_of(judged.outcome),
            "judged_words": outcome_words(judged.outcome),
            "parts_apart": told_apart(part_views(judged.parts)) if sheet.now is None else ((), ()),
            "editable": editable,
            "at_hand": at_hand or (AtHandForm(sheet) if editable else None),
            "may_perform": self.actor.may(Verb.PERFORM),
            "is_mine": run.performer_id == self.actor.user_id,
            "colleagues": colleagues_who_perform(self.actor, but=run.performer_id) if editable else [],
            "hand_overs": run.hand_overs.select_related("from_user", "to_user"),
            "server_now": now(),
        }
        return render(self.request, "records/run.html", context, status=status)

    def must_work_on(self, sheet: RunSheet) -> None:
        """Refuse (`not_your_run`) whoever may enter nothing here now."""
        if not may_work_on(self.actor, sheet.run):
            raise Conflict(
                "not_your_run",
                "Only whoever has this run in hand enters something, and only while it is open.",
            )

    def _result(self, sheet: RunSheet) -> dict[str, Any]:
        run = sheet.run
        detail = run.verdict_detail
        record = getattr(run, "record", None)
        return {
            "cards": cards_of(sheet, so_far(sheet), {}, editable=False),
            "parts_apart": told_apart(part_views(detail.get("parts", []))),
            "reason": detail.get("reason", ""),
            "measured": outcome_words(detail["measured"]) if detail.get("measured") else "",
            "level": level_of(run.verdict),
            "outcome": outcome_words(run.verdict),
            "record": record,
            "signatures": run.signatures.order_by("signed_at", "id"),
            "photos": run.photos.all(),
            "may_sign": run.state == RunState.FINISHED
            and (self.actor.may(Verb.SIGN) or self.actor.may(Verb.INSPECT)),
            "may_abandon": run.state == RunState.FINISHED
            and self.actor.may(Verb.PERFORM)
            and "fail" not in (run.verdict, detail.get("measured")),
        }


class RunPage(RunBase):
    """The run: its steps to work, or what it came to."""

    def get(self, request: HttpRequest, run_id: int) -> HttpResponse:
        """Show it."""
        return self.shown(run_sheet(self.actor, run_id))


class RunAnswer(RunBase):
    """One step answered by its form."""

    def post(self, request: HttpRequest, run_id: int, step: str) -> HttpResponse:
        """Keep the answer and go to the next step, or show what is wrong beside its field."""
        sheet = run_sheet(self.actor, run_id)
        row = _row(sheet, step)
        if sheet.run.answers.filter(key=request.POST.get("key", ""), step=step).exists():
            return HttpResponseRedirect(self.next_address(run_id, step))
        form = step_form(row, sheet.content, sheet.run.aircraft.base.zone, request.POST, request.FILES)
        if not form.is_valid():
            return self.shown(sheet, bound=form, status=422)
        try:
            with transaction.atomic():
                self._keep(run_id, row, form)
        except (Invalid, Conflict) as refusal:
            put_in_form(form, refusal)
            return self.shown(run_sheet(self.actor, run_id), bound=form, status=refusal.status)
        return HttpResponseRedirect(self.next_address(run_id, step))

    def _keep(self, run_id: int, row: StepRow, form: StepForm) -> None:
        data = form.cleaned_data
        if isinstance(form, PhotoForm):
            picture = NewPhoto(row.step.key, data["key"], data["photo"].read(), now())
            add_photo(actor=self.actor, run_id=run_id, new=picture)
        entry = Entry(row.step.key, data["key"], form.answer(), now(), data.get("repeat_reason", ""))
        answer_step(actor=self.actor, run_id=run_id, entry=entry)

    def next_address(self, run_id: int, step: str) -> str:
        """The step itself where it has a reading to look at, otherwise the one that comes now."""
        sheet = run_sheet(self.actor, run_id)
        row = sheet.row(step)
        has_reading = row is not None and row.latest is not None and row.latest.answer.measurements.exists()
        if has_reading:
            return run_address(run_id, step)
        return next_place(sheet)


class RunPress(RunAnswer):
    """The button of the screen's own timer: on, off, or clear."""

    def post(self, request: HttpRequest, run_id: int, step: str) -> HttpResponse:
        """Press; the last press off stores the answer."""
        sheet = run_sheet(self.actor, run_id)
        row = _row(sheet, step)
        self.must_work_on(sheet)
        wanted = request.POST.get("press", "")
        if wanted == "clear":
            clear(request.session, run_id, row.step)
            return HttpResponseRedirect(run_address(run_id, step))
        try:
            return HttpResponseRedirect(self._pressed(run_id, row, wanted))
        except (Invalid, Conflict) as refusal:
            messages.error(request, " ".join([refusal.sentence, *(r.sentence() for r in refusal.reasons)]))
            return HttpResponseRedirect(run_address(run_id, step))

    def _pressed(self, run_id: int, row: StepRow, wanted: str) -> str:
        session, step = self.request.session, row.step
        timer = timer_of(session, run_id, step)
        is_on = timer is not None and timer.is_on
        is_new_press = (wanted == "on") != is_on and not (timer and timer.is_complete(step))
        if is_new_press and (wanted == "on" or is_on):
            reason = self.request.POST.get("repeat_reason", "")
            if row.is_repeat and timer is None and not reason.strip():
                raise Conflict("repeat_needs_reason", "Say why the run is repeated; both answers are kept.")
            timer = press(
                session, run_id, step, pressed_moment(self.request.POST.get("pressed_at", "")), reason
            )
        if timer is not None and timer.is_complete(step):
            return self._store(run_id, row, timer)
        return run_address(run_id, step.key)

    def _store(self, run_id: int, row: StepRow, timer: Timer) -> str:
        step = row.step
        entry = Entry(step.key, timer.key, timer.answer(step), now(), timer.repeat_reason)
        answer_step(actor=self.actor, run_id=run_id, entry=entry)
        clear(self.request.session, run_id, step)
        return self.next_address(run_id, step.key)


class RunAtHand(RunBase):
    """Equipment and fluid named before the first step."""

    def post(self, request: HttpRequest, run_id: int) -> HttpResponse:
        """Name everything, or nothing and say what is wrong."""
        sheet = run_sheet(self.actor, run_id)
        self.must_work_on(sheet)
        form = AtHandForm(sheet, request.POST)
        if form.is_valid() and self._name_all(sheet, form):
            return HttpResponseRedirect(next_place(run_sheet(self.actor, run_id)))
        return self.shown(sheet, at_hand=form, status=422)

    def _name_all(self, sheet: RunSheet, form: AtHandForm) -> bool:
        try:
            with transaction.atomic():
                self._name(sheet, form)
        except (Invalid, Conflict) as refusal:
            put_in_form(form, refusal)
            return False
        return True

    def _name(self, sheet: RunSheet, form: AtHandForm) -> None:
        data, run_id = form.cleaned_data, sheet.run.pk
        for role in sheet.need.roles:
            chosen, use = int(data[role_field(role)]), sheet.uses.get(role.need.role)
            if use is None or use.equipment_id != chosen:
                use_equipment(actor=self.actor, run_id=run_id, role=role.need.role, equipment_id=chosen)
        if "lot" in data:
            lot, amount, unit = int(data["lot"]), data["amount"].strip(), data["unit"]
            known = sheet.lot_use
            if known is None or (known.lot_id, known.amount, known.unit) != (lot, amount, unit):
                use_lot(actor=self.actor, run_id=run_id, lot_id=lot, amount=amount, unit=unit)


class RunPause(CommandScreen):
    """Put the run aside."""

    done = "The run is put aside. Nothing is lost; the aircraft stays not releasable."

    def act(self, run_id: int) -> str:
        """Pause it."""
        pause_run(actor=self.actor, run_id=run_id)
        return run_address(run_id)


class RunResume(CommandScreen):
    """Go on with the run."""

    def act(self, run_id: int) -> str:
        """Resume it, at the step that comes now."""
        resume_run(actor=self.actor, run_id=run_id)
        return next_place(run_sheet(self.actor, run_id))


class RunHandOver(CommandScreen):
    """Pass the run on, or take it over."""

    done = "The run changed hands."

    def act(self, run_id: int) -> str:
        """Hand over to the colleague named; pressed twice it changes nothing more."""
        to = self.request.POST.get("to", "")
        person = people(self.actor).filter(pk=int(to)).first() if to.isdigit() else None
        if person is None:
            raise Invalid("bad_provision", "Choose who takes the run over.")
        if run_for(self.actor, run_id).performer_id != person.pk:
            words = self.request.POST.get("note", "")
            hand_over(actor=self.actor, run_id=run_id, to_user_id=person.pk, note_words=words)
        return run_address(run_id)


class RunAbandon(CommandScreen):
    """Give the run up with a reason."""

    done = "The run is given up. What was entered stays readable, and the task stands open again."

    def act(self, run_id: int) -> str:
        """Abandon it."""
        abandon_run(actor=self.actor, run_id=run_id, reason=self.request.POST.get("reason", ""))
        return run_address(run_id)


class RunFinish(CommandScreen):
    """Close the run for entries and hear the verdict."""

    def act(self, run_id: int) -> str:
        """Finish it."""
        finish_run(actor=self.actor, run_id=run_id)
        return run_address(run_id)


class RunPhoto(ScreenMixin, View):
    """One photograph of a run."""

    def get(self, request: HttpRequest, run_id: int, photo_id: int) -> FileResponse:
        """The picture itself, never to be guessed to be something else."""
        photo = photo_for(self.actor, run_id, photo_id)
        return FileResponse(photo.file.open("rb"), content_type=photo.media_type)


def _may_show(sheet: RunSheet, bound: StepForm) -> bool:
    """Whether the page has a place for the form of this step now."""
    row = sheet.row(bound.step.key)
    return row is not None and row.state in (StepState.NOW, StepState.DONE)


def _row(sheet: RunSheet, step: str) -> StepRow:
    row = sheet.row(step)
    if row is None:
        raise NotFound("step_not_found", "This run has no such step.")
    return row
