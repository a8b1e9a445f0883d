"""A finished run as the content of its record: everything needed to understand it years later, in exact form.

Decimals and hours are text, times are UTC, so that the canonical form (RFC 8785) is the same for ever.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleet.models import Equipment
from fleet.quantities import format_minutes
from fleet.selectors.meters import Counters, counters_at
from records.gather.judging import latest_of
from records.models import BenchRun, EquipmentUse, HandOver, LotUse, Measurement, Photo, Signature, StepAnswer
from records.seal.entry import Approver, EntryFacts, EntryKind
from scheduling.models import Event, TaskCause
from scheduling.steps.terms import ProcedureContent

SCHEMA = "verglas-record-1"
SAFETY = (
    "The aircraft's approved maintenance data, the authority's rules and licensed staff decide; "
    "this record does not replace them."
)
STATEMENT = "Inspected in accordance with the data named above and found within its limits."


@dataclass(frozen=True, slots=True)
class Entered:
    """Everything entered in one run, each in the order it was kept, and the counters when it was completed."""

    counters: Counters
    causes: Iterable[TaskCause]
    answers: Iterable[StepAnswer]
    measurements: Iterable[Measurement]
    equipment: Iterable[EquipmentUse]
    lots: Iterable[LotUse]
    photos: Iterable[Photo]
    hand_overs: Iterable[HandOver] = ()


def entered_in(run: BenchRun) -> Entered:
    """What stands in the tables about a run."""
    about = (
        "event__kind",
        "event__position",
        "event__component_off__kind",
        "event__component_on__kind",
    )
    return Entered(
        counters=counters_at(run.aircraft_id, run.finished_at or run.started_at),
        causes=run.task.causes.select_related(*about).order_by("at", "id"),
        answers=run.answers.select_related("by").order_by("id"),
        measurements=run.measurements.select_related("equipment").order_by("id"),
        equipment=run.equipment_uses.select_related("equipment").order_by("role"),
        lots=run.lot_uses.select_related("lot").order_by("id"),
        photos=run.photos.order_by("id"),
        hand_overs=run.hand_overs.select_related("from_user", "to_user").order_by("id"),
    )


def run_payload(run: BenchRun, content: ProcedureContent, entered: Entered | None = None) -> dict[str, Any]:
    """The content a signature binds and a record seals, as things stand now.

    `entered` is what `entered_in` reads, where the caller has it at hand.
    """
    finished_at = run.finished_at or run.started_at
    entered = entered or entered_in(run)
    counters = entered.counters
    return {
        "schema": SCHEMA,
        "aircraft": {
            "registration": run.aircraft.registration,
            "type": run.aircraft.aircraft_type.name,
            "serial_number": run.aircraft.serial_number,
            "time_in_service": format_minutes(counters.minutes),
            "landings": str(counters.landings),
        },
        "task": _task(run, list(entered.causes)),
        "run": run.number,
        "procedure": _procedure(run),
        "performed_by": run.performer.full_name,
        "started_at": moment(run.started_at),
        "finished_at": moment(finished_at),
        "completed_on": finished_at.astimezone(_zone(run)).date().isoformat(),
        **_work(content, entered),
        "verdict": run.verdict,
        "verdict_detail": run.verdict_detail,
        **_declaration(run),
        "notice": SAFETY,
    }


def _zone(run: BenchRun) -> ZoneInfo:
    return ZoneInfo(run.aircraft.base.zone)


def _procedure(run: BenchRun) -> dict[str, Any]:
    version = run.procedure_version
    return {
        "code": version.procedure.code,
        "title": version.procedure.title,
        "version": version.number,
        "approved_data": version.approved_reference,
        "revision": version.approved_revision,
        "ata": version.ata,
    }


def _task(run: BenchRun, causes: list[TaskCause]) -> dict[str, Any]:
    task = run.task
    return {
        "id": task.pk,
        "title": task.title,
        "position": str(task.position or ""),
        "component": _component(task.component),
        "why": [cause.words for cause in causes],
        "events": _events(causes),
    }


def _events(causes: list[TaskCause]) -> list[dict[str, str]]:
    events = {cause.event.pk: cause.event for cause in causes if cause.event is not None}
    return [_event(event) for event in events.values()]


def _event(event: Event) -> dict[str, str]:
    return {
        "kind": event.kind.name,
        "at": moment(event.at),
        "position": str(event.position or ""),
        "component_off": _component(event.component_off),
        "component_on": _component(event.component_on),
        "reported_by": event.reported_by_name,
    }


def _component(component: Any) -> str:
    if component is None:
        return ""
    return f"{component.kind.name}, part {component.part_number}, serial {component.serial_number}"


def _work(content: ProcedureContent, entered: Entered) -> dict[str, Any]:
    answers = list(entered.answers)
    counting = {answer.pk for answer in latest_of(answers, content).values()}
    names = {point.key: point.name for point in content.points}
    titles = {step.key: step.title for step in content.steps}
    return {
        "answers": [_answer(row, titles, row.pk in counting) for row in answers],
        "measurements": [_measurement(row, names, row.answer_id in counting) for row in entered.measurements],
        "equipment": [_equipment(row) for row in entered.equipment],
        "fluid": [_lot(row) for row in entered.lots],
        "photos": [{"step": row.step, "sha256": row.sha256} for row in entered.photos],
        "hand_overs": [
            {
                "from": row.from_user.full_name,
                "to": row.to_user.full_name,
                "note": row.note,
                "at": moment(row.at),
            }
            for row in entered.hand_overs
        ],
    }


def _answer(row: StepAnswer, titles: dict[str, str], counts: bool) -> dict[str, Any]:
    return {
        "step": row.step,
        "title": titles.get(row.step, row.step),
        "answer": row.answer,
        "outcome": row.outcome,
        "words": row.outcome_words,
        "counts": counts,
        "repeat_reason": row.repeat_reason,
        "captured_at": moment(row.captured_at),
        "by": row.by.full_name,
    }


def _measurement(row: Measurement, names: dict[str, str], counts: bool) -> dict[str, Any]:
    return {
        "point": row.point,
        "name": names.get(row.point, row.point),
        "side": row.side,
        "value": row.value,
        "unit": row.unit,
        "detail": row.detail,
        "limit": row.limit,
        "verdict": row.verdict,
        "margin": row.margin,
        "words": row.words,
        "counts": counts,
        "equipment": row.equipment.code if row.equipment else "",
        "captured_at": moment(row.captured_at),
    }


def _equipment(row: EquipmentUse) -> dict[str, str]:
    equipment: Equipment = row.equipment
    return {
        "role": row.role,
        "code": equipment.code,
        "name": equipment.name,
        "serial_number": equipment.serial_number,
        "certificate": row.certificate,
        "calibration_due": row.calibration_due.isoformat() if row.calibration_due else "",
    }


def _lot(row: LotUse) -> dict[str, str]:
    return {
        "specification": row.lot.specification,
        "batch": row.lot.batch,
        "expires_on": row.lot.expires_on.isoformat(),
        "amount": row.amount,
        "unit": row.unit,
    }


def _declaration(run: BenchRun) -> dict[str, Any]:
    """What the signer certifies of an inspection (14 CFR 43.11(a)(4) or (5)); of other work, nothing more."""
    if not run.procedure_version.is_inspection:
        return {}
    if run.verdict == "pass":
        return {"statement": STATEMENT}
    parts = run.verdict_detail.get("parts", [])
    failing = [f"{part['label']}: {part['reason']}" for part in parts if part["outcome"] != "pass"]
    return {"discrepancies": failing}


def entry_facts(run: BenchRun) -> EntryFacts:
    """The run as the rule of complete entries sees it. The last signature is the approval."""
    version = run.procedure_version
    approval = run.signatures.order_by("signed_at", "id").last()
    finished_at = run.finished_at or run.started_at
    counters = counters_at(run.aircraft_id, finished_at)
    approved = run.verdict == "pass"
    completed_on = finished_at.astimezone(_zone(run)).date()
    return EntryFacts(
        kind=EntryKind.INSPECTION if version.is_inspection else EntryKind.WORK,
        description=f"{run.task.title} per {version.approved_reference} revision {version.approved_revision}",
        completed_on=completed_on,
        approver=_approver(approval) if approval else None,
        performer_id=run.performer_id,
        performer_name=run.performer.full_name,
        total_minutes=counters.minutes,
        statement=STATEMENT if approved else "",
        is_approved=approved,
        discrepancies_on=None if approved else completed_on,
    )


def _approver(signature: Signature) -> Approver:
    return Approver(
        signature.user_id, signature.name, signature.certificate_number, signature.certificate_kind
    )


def moment(at: datetime) -> str:
    """A moment in UTC: 2026-01-15T09:30:00Z."""
    return at.isoformat().replace("+00:00", "Z")
