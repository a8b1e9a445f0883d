"""What makes a maintenance entry complete: two rules that exclude each other, chosen by the kind of entry. Pure.

Work entries follow 14 CFR 43.9(a), inspection entries 14 CFR 43.11(a); 43.9(c) keeps them apart.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from fleet.common.errors import Reason


class EntryKind(StrEnum):
    """Which of the two rules applies."""

    WORK = "work"
    INSPECTION = "inspection"


@dataclass(frozen=True, slots=True)
class Approver:
    """Who approves: name, certificate number and kind."""

    person_id: int
    name: str
    certificate_number: str = ""
    certificate_kind: str = ""


@dataclass(frozen=True, slots=True)
class EntryFacts:
    """An entry before it is sealed. `total_minutes` is the aircraft's total time in service."""

    kind: EntryKind
    description: str
    completed_on: date | None
    approver: Approver | None
    performer_id: int | None = None
    performer_name: str = ""
    total_minutes: int | None = None
    statement: str = ""
    is_approved: bool = True
    discrepancies_on: date | None = None


def missing_from(entry: EntryFacts) -> tuple[Reason, ...]:
    """What the entry still lacks, nothing where it is complete.

    A work entry by somebody other than the approver, without that person's name, lacks the performer's name.
    Time in service is asked of inspections only.
    """
    missing = list(_common(entry))
    if entry.kind is EntryKind.WORK:
        other = entry.approver is not None and entry.performer_id not in (None, entry.approver.person_id)
        if other and not entry.performer_name.strip():
            missing.append(_lacks("performer_name", "the name of the person who did the work", "43.9(a)(3)"))
        return tuple(missing)
    if entry.total_minutes is None:
        missing.append(_lacks("total_minutes", "the aircraft's total time in service", "43.11(a)(2)"))
    if entry.is_approved and not entry.statement.strip():
        missing.append(_lacks("statement", "the certifying statement", "43.11(a)(4)"))
    if not entry.is_approved and entry.discrepancies_on is None:
        missing.append(_lacks("discrepancies_on", "the dated list of discrepancies", "43.11(a)(5)"))
    return tuple(missing)


def _common(entry: EntryFacts) -> list[Reason]:
    rule = "43.9(a)" if entry.kind is EntryKind.WORK else "43.11(a)"
    missing = []
    if not entry.description.strip():
        missing.append(_lacks("description", "a description of the work", rule))
    if entry.completed_on is None:
        missing.append(_lacks("completed_on", "the date of completion", rule))
    if entry.approver is None or not entry.approver.name.strip():
        missing.append(_lacks("approver", "the signature of the person approving", rule))
        return missing
    if not entry.approver.certificate_number.strip():
        missing.append(_lacks("certificate_number", "the approver's certificate number", rule))
    if not entry.approver.certificate_kind.strip():
        missing.append(_lacks("certificate_kind", "the approver's kind of certificate", rule))
    return missing


def _lacks(field: str, what: str, rule: str) -> Reason:
    return Reason(f"{what} is missing (14 CFR {rule})", field, remedy="add it before signing")
