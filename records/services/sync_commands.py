"""What each offline command means: its body read, one service called, an answer for the phone."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any

from django.core.files.base import ContentFile

from fleet.common.actor import Actor
from fleet.common.errors import NotFound, wrong
from fleet.selectors.aircraft import aircraft_for
from fleet.services.configuration import NewComponent
from records.models import BenchRun
from records.services.finishing import finish_run
from records.services.provisions import NewPhoto, add_photo, hand_over, use_equipment, use_lot
from records.services.runs import (
    Entry,
    Opening,
    abandon_run,
    answer_step,
    open_run,
    pause_run,
    resume_run,
)
from scheduling.limits.fields import Fields
from scheduling.services.events import EventReport, report_event

_wrong = partial(wrong, code="bad_command")

Answer = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Command:
    """One command: the id the phone gave it, when it was entered, and what it needs."""

    id: str
    kind: str
    captured_at: datetime
    body: Mapping[str, Any]


def _read(command: Command, *known: str) -> Fields:
    return Fields(command.body, "", known)


def _run_id(actor: Actor, command: Command) -> int:
    """The run meant: by its number, or by the id of the command that opened it while there was no reception."""
    given = command.body.get("run")
    if isinstance(given, int) and not isinstance(given, bool):
        return given
    opening = command.body.get("opening")
    if not isinstance(opening, str) or not opening:
        raise _wrong("run", str(given or ""), "is missing", "name the run, or the command that opened it")
    run_id = (
        BenchRun.objects.filter(operator_id=actor.operator_id, key=opening)
        .values_list("pk", flat=True)
        .order_by("-pk")
        .first()
    )
    if run_id is None:
        raise NotFound("run_not_found", "The run this belongs to was not opened here.")
    return run_id


def _open(actor: Actor, command: Command) -> Answer:
    fields = _read(command, "task", "procedure_version")
    task = fields.whole("task", 0, least=1)
    version = fields.whole("procedure_version", 0, least=0)
    fields.finish("bad_command")
    opening = Opening(task, command.id, command.captured_at, version or None)
    run, repeated = open_run(actor=actor, opening=opening)
    words = f"{run.task.title}: run {run.number} begun"
    return {"run": run.pk, "number": run.number, "repeated": repeated, "words": words}


def _answer(actor: Actor, command: Command) -> Answer:
    fields = _read(command, "run", "opening", "step", "answer", "repeat_reason")
    step, reason = fields.text("step"), fields.text("repeat_reason", "")
    fields.finish("bad_command")
    answer = command.body.get("answer")
    if not isinstance(answer, Mapping):
        raise _wrong("answer", str(answer)[:40], "is no object", "send {…} as the step asks")
    entry = Entry(step, command.id, answer, command.captured_at, reason)
    kept, repeated = answer_step(actor=actor, run_id=_run_id(actor, command), entry=entry)
    return {
        "run": kept.run_id,
        "outcome": kept.outcome,
        "words": kept.outcome_words or "kept",
        "repeated": repeated,
    }


def _equipment(actor: Actor, command: Command) -> Answer:
    fields = _read(command, "run", "opening", "role", "equipment")
    role, equipment = fields.text("role"), fields.whole("equipment", 0, least=1)
    fields.finish("bad_command")
    use = use_equipment(actor=actor, run_id=_run_id(actor, command), role=role, equipment_id=equipment)
    return {"run": use.run_id, "words": f"{use.equipment} taken"}


def _lot(actor: Actor, command: Command) -> Answer:
    fields = _read(command, "run", "opening", "lot", "amount", "unit")
    lot, amount, unit = fields.whole("lot", 0, least=1), fields.text("amount"), fields.unit()
    fields.finish("bad_command")
    use = use_lot(actor=actor, run_id=_run_id(actor, command), lot_id=lot, amount=amount, unit=unit)
    return {"run": use.run_id, "words": f"{use.amount} {use.unit} of {use.lot}"}


def _photo(actor: Actor, command: Command) -> Answer:
    fields = _read(command, "run", "opening", "step", "content")
    step, content = fields.text("step"), fields.text("content")
    fields.finish("bad_command")
    new = NewPhoto(step, command.id, _picture(content, "content"), command.captured_at)
    photo, repeated = add_photo(actor=actor, run_id=_run_id(actor, command), new=new)
    return {"run": photo.run_id, "photo": photo.pk, "repeated": repeated, "words": "picture kept"}


def _picture(content: str, field: str) -> bytes:
    try:
        return base64.b64decode(content, validate=True)
    except binascii.Error as error:
        raise _wrong(field, content[:20] + "…", "is not base64", "send the picture in base64") from error


def _pause(actor: Actor, command: Command) -> Answer:
    run = pause_run(actor=actor, run_id=_run_id(actor, command))
    return {"run": run.pk, "words": "run put aside"}


def _resume(actor: Actor, command: Command) -> Answer:
    run = resume_run(actor=actor, run_id=_run_id(actor, command))
    return {"run": run.pk, "words": "run taken up again"}


def _hand_over(actor: Actor, command: Command) -> Answer:
    fields = _read(command, "run", "opening", "to", "note")
    to, note = fields.whole("to", 0, least=1), fields.text("note")
    fields.finish("bad_command")
    run = hand_over(actor=actor, run_id=_run_id(actor, command), to_user_id=to, note_words=note)
    return {"run": run.pk, "words": f"handed over to {run.performer.full_name}"}


def _abandon(actor: Actor, command: Command) -> Answer:
    fields = _read(command, "run", "opening", "reason")
    reason = fields.text("reason")
    fields.finish("bad_command")
    run = abandon_run(actor=actor, run_id=_run_id(actor, command), reason=reason)
    return {"run": run.pk, "words": "run given up; the task stands open again"}


def _finish(actor: Actor, command: Command) -> Answer:
    run = finish_run(actor=actor, run_id=_run_id(actor, command), at=command.captured_at)
    reason = str(run.verdict_detail.get("reason", ""))
    words = f"{run.verdict.upper().replace('_', ' ')}: {reason}"
    return {"run": run.pk, "verdict": run.verdict, "reason": reason, "words": words}


EVENT_FIELDS = ("aircraft", "event_kind", "position", "component_on", "new_component", "note", "photo")


def _event(actor: Actor, command: Command) -> Answer:
    fields = _read(command, *EVENT_FIELDS)
    registration, kind = fields.text("aircraft"), fields.text("event_kind")
    position, note = fields.text("position", ""), fields.text("note", "")
    photo = fields.text("photo", "")
    component = fields.whole("component_on", 0, least=0)
    fields.finish("bad_command")
    report = EventReport(
        aircraft_id=aircraft_for(actor, registration).pk,
        kind_code=kind,
        at=command.captured_at,
        key=command.id,
        position_code=position,
        component_on_id=component or None,
        new_component=_new_component(command.body.get("new_component")),
        note=note,
        photo=ContentFile(_picture(photo, "photo"), name="photo") if photo else None,
        by_hand=True,
    )
    reported = report_event(actor=actor, report=report)
    tasks = (*reported.raised, *reported.joined)
    follows = "; ".join(task.title for task in tasks) or "no work follows"
    return {
        "event": reported.event.pk,
        "tasks": [{"id": task.pk, "title": task.title} for task in tasks],
        "repeated": reported.repeated,
        "words": f"{reported.event.kind.name} reported; {follows}",
    }


def _new_component(data: object) -> NewComponent | None:
    if data is None:
        return None
    fields = Fields(data, "new_component", ("part_number", "serial_number", "release_document"))
    new = NewComponent(
        kind_code="",
        part_number=fields.text("part_number"),
        serial_number=fields.text("serial_number"),
        release_document=fields.text("release_document", ""),
    )
    fields.finish("bad_command")
    return new


COMMANDS: dict[str, Callable[[Actor, Command], Answer]] = {
    "open_run": _open,
    "answer": _answer,
    "use_equipment": _equipment,
    "use_lot": _lot,
    "photo": _photo,
    "pause": _pause,
    "resume": _resume,
    "hand_over": _hand_over,
    "abandon": _abandon,
    "finish": _finish,
    "report_event": _event,
}
