"""A finished run as the content of its record: everything needed to understand it years later, in exact form.

Decimals and hours are text, times are UTC, so that the canonical form (RFC 8785) is the same for ever.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from fleet.quantities import format_minutes
from fleet.selectors.meters import counters_at
from records.models import BenchRun, Signature, StepAnswer
from records.seal.entry import Approver, EntryFacts, EntryKind

SAFETY = (
    "The aircraft's approved maintenance data, the authority's rules and licensed staff decide; "
    "this record does not replace them."
)
STATEMENT = "Inspected in accordance with the data named above and found within its limits."


def run_payload(run: BenchRun) -> dict[str, Any]:
    """The content a signature binds and a record seals."""
    version = run.procedure_version
    counters = counters_at(run.aircraft_id, run.finished_at or run.started_at)
    return {
        "schema": "verglas-record-1",
        "aircraft": {
            "registration": run.aircraft.registration,
            "type": run.aircraft.aircraft_type.name,
            "serial_number": run.aircraft.serial_number,
        },
        "task": {"id": run.task_id, "title": run.task.title, "why": _why(run)},
        "run": run.number,
        "procedure": {
            "code": version.procedure.code,
            "title": version.procedure.title,
            "version": version.number,
            "approved_data": version.approved_reference,
            "revision": version.approved_revision,
            "ata": version.ata,
        },
        "performed_by": run.performer.full_name,
        "started_at": moment(run.started_at),
        "finished_at": moment(run.finished_at or run.started_at),
        "time_in_service": format_minutes(counters.minutes),
        "landings": str(counters.landings),
        "answers": [_answer(row) for row in run.answers.select_related("by").order_by("received_at", "id")],
        "measurements": [_measurement(row) for row in run.measurements.order_by("id")],
        "equipment": [_equipment(row) for row in run.equipment_uses.select_related("equipment").order_by("role")],
        "fluid": [
            {"lot": str(row.lot), "amount": row.amount, "unit": row.unit}
            for row in run.lot_uses.select_related("lot").order_by("id")
        ],
        "photos": [{"step": row.step, "sha256": row.sha256} for row in run.photos.order_by("id")],
        "hand_overs": [
            {"from": row.from_user.full_name, "to": row.to_user.full_name, "note": row.note, "at": moment(row.at)}
            for row in run.hand_overs.select_related("from_user", "to_user").order_by("id")
        ],
        "verdict": run.verdict,
        "verdict_detail": run.verdict_detail,
        "notice": SAFETY,
    }


def _why(run: BenchRun) -> list[str]:
    return [cause.words for cause in run.task.causes.order_by("at", "id")]


def _answer(row: StepAnswer) -> dict[str, Any]:
    return {
        "step": row.step,
        "answer": row.answer,
        "outcome": row.outcome,
        "words": row.outcome_words,
        "repeat_reason": row.repeat_reason,
        "captured_at": moment(row.captured_at),
        "by": row.by.full_name,
    }


def _measurement(row: Any) -> dict[str, Any]:
    return {
        "point": row.point,
        "side": row.side,
        "value": row.value,
        "unit": row.unit,
        "detail": row.detail,
        "limit": row.limit,
        "verdict": row.verdict,
        "margin": row.margin,
        "words": row.words,
        "captured_at": moment(row.captured_at),
    }


def _equipment(row: Any) -> dict[str, str]:
    return {
        "role": row.role,
        "code": row.equipment.code,
        "name": row.equipment.name,
        "serial_number": row.equipment.serial_number,
        "certificate": row.certificate,
        "calibration_due": row.calibration_due.isoformat() if row.calibration_due else "",
    }


def entry_facts(run: BenchRun) -> EntryFacts:
    """The run as the rule of complete entries sees it. The last signature is the approval."""
    version = run.procedure_version
    approval = run.signatures.order_by("signed_at", "id").last()
    counters = counters_at(run.aircraft_id, run.finished_at or run.started_at)
    approved = run.verdict == "pass"
    return EntryFacts(
        kind=EntryKind.INSPECTION if version.is_inspection else EntryKind.WORK,
        description=f"{run.task.title} per {version.approved_reference} revision {version.approved_revision}",
        completed_on=(run.finished_at or run.started_at).date(),
        approver=_approver(approval) if approval else None,
        performer_id=run.performer_id,
        performer_name=run.performer.full_name,
        total_minutes=counters.minutes,
        statement=STATEMENT if approved else "",
        is_approved=approved,
        discrepancies_on=None if approved else (run.finished_at or run.started_at).date(),
    )


def _approver(signature: Signature) -> Approver:
    return Approver(
        signature.user_id, signature.name, signature.certificate_number, signature.certificate_kind
    )


def moment(at: datetime) -> str:
    """A moment in UTC: 2026-01-15T09:30:00Z."""
    return at.isoformat().replace("+00:00", "Z")
