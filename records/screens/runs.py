"""Entering a run: a step answered, the timer pressed, equipment and fluid named."""

from __future__ import annotations

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound
from fleet.screens.base import put_in_form
from records.screens.at_hand_form import AtHandForm, role_field
from records.screens.run_page import RunBase, next_place, run_address
from records.screens.step_forms import PhotoForm, StepForm, step_form
from records.screens.timers import Timer, clear, press, pressed_moment, timer_of
from records.selectors.run_sheet import RunSheet, StepRow, run_sheet
from records.services.provisions import NewPhoto, add_photo, use_equipment, use_lot
from records.services.runs import Entry, answer_step


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


def _row(sheet: RunSheet, step: str) -> StepRow:
    row = sheet.row(step)
    if row is None:
        raise NotFound("step_not_found", "This run has no such step.")
    return row
