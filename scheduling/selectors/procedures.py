"""Reads about procedures: the list, one version for reading, and what changed between two."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from django.db.models import Count, Prefetch, Q, QuerySet

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from scheduling.gather.rules import option_names
from scheduling.models import OPEN_STATES, Procedure, ProcedureVersion, TriggerRule
from scheduling.steps.compare import differences
from scheduling.steps.describe import PointWords, StepWords, condition_words, point_words, step_words
from scheduling.steps.parse import procedure_from_data
from scheduling.steps.terms import ProcedureContent

State = ProcedureVersion.State
FIELD_WORDS = {
    "approved_reference": "Approved data",
    "approved_revision": "Revision of the approved data",
    "ata": "Chapter",
    "consequence": "What it stops while open",
    "minutes": "Minutes",
    "people": "People",
    "needs_countersignature": "Second signature",
    "is_inspection": "Inspection entry",
}


@dataclass(frozen=True, slots=True)
class EquipmentWords:
    """One tool for reading."""

    role: str
    name: str
    kind: str
    applies: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One version of a procedure, ready to be read: everything in words."""

    version: ProcedureVersion
    content: ProcedureContent
    steps: tuple[StepWords, ...]
    points: tuple[PointWords, ...]
    equipment: tuple[EquipmentWords, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One version in the history, with what it changed against the one before."""

    version: ProcedureVersion
    differences: tuple[str, ...]


def procedures(actor: Actor) -> QuerySet[Procedure]:
    """The operator's procedures by code, each with its versions, newest first, and its open tasks counted."""
    versions = ProcedureVersion.objects.select_related("written_by").order_by("-number")
    return (
        Procedure.objects.filter(operator_id=actor.operator_id)
        .select_related("aircraft_type")
        .prefetch_related(Prefetch("versions", queryset=versions))
        .annotate(open_tasks=Count("tasks", filter=Q(tasks__state__in=OPEN_STATES)))
        .order_by("code")
    )


def procedure_for(actor: Actor, code: str) -> Procedure:
    """One procedure by its code; a stranger's is not found."""
    row = procedures(actor).filter(code=code).first()
    if row is None:
        raise NotFound("procedure_not_found", f"There is no procedure {code} here.")
    return row


def version_for(actor: Actor, code: str, number: int) -> ProcedureVersion:
    """One version of a procedure; a stranger's is not found."""
    row = (
        ProcedureVersion.objects.filter(
            procedure__operator_id=actor.operator_id, procedure__code=code, number=number
        )
        .select_related("procedure__aircraft_type", "written_by")
        .first()
    )
    if row is None:
        raise NotFound("version_not_found", f"There is no version {number} of {code} here.")
    return row


def shown_version(procedure: Procedure) -> ProcedureVersion:
    """The version a reader is shown first: the one in force, else the newest."""
    versions = list(procedure.versions.all())
    current = [version for version in versions if version.state == State.CURRENT]
    return (current or versions)[0]


def draft_or_shown(procedure: Procedure) -> ProcedureVersion:
    """The version an editor begins from: the draft, else the one in force, else the newest."""
    drafts = [version for version in procedure.versions.all() if version.state == State.DRAFT]
    return drafts[0] if drafts else shown_version(procedure)


def text_digest(procedure: Procedure) -> str:
    """Changes with every text and every state of the procedure's versions; what editors compare."""
    rows = [[v.number, v.state, v.written_at.isoformat(), v.content] for v in procedure.versions.all()]
    words = json.dumps([procedure.title, str(procedure.withdrawn_on), rows], sort_keys=True)
    return hashlib.sha256(words.encode()).hexdigest()[:16]


def reading_of(actor: Actor, version: ProcedureVersion) -> Reading:
    """One version in words."""
    content = procedure_from_data(version.content)
    names = option_names(actor.operator_id)
    equipment = tuple(
        EquipmentWords(need.role, need.name, need.kind.replace("-", " "), condition_words(need.when, names))
        for need in content.equipment
    )
    return Reading(version, content, step_words(content, names), point_words(content), equipment)


def history_of(versions: Iterable[ProcedureVersion]) -> list[Change]:
    """Versions, newest first, each with its differences to the one before it."""
    rows = sorted(versions, key=lambda version: -version.number)
    older = [*rows[1:], None]
    return [
        Change(new, changes_between(old, new) if old else ()) for new, old in zip(rows, older, strict=True)
    ]


def changes_between(old: ProcedureVersion, new: ProcedureVersion) -> tuple[str, ...]:
    """What changed from one version to another, one sentence each."""
    frame = [
        f"{words} was “{_shown(old, name)}”, is “{_shown(new, name)}”."
        for name, words in FIELD_WORDS.items()
        if getattr(old, name) != getattr(new, name)
    ]
    return (*frame, *differences(procedure_from_data(old.content), procedure_from_data(new.content)))


def _shown(version: ProcedureVersion, name: str) -> str:
    value = getattr(version, name)
    if name == "consequence":
        return version.get_consequence_display()
    return ("yes" if value else "no") if isinstance(value, bool) else str(value)


def users_of(procedure: Procedure) -> Iterator[str]:
    """What still needs a procedure, in words."""
    for task in procedure.tasks.filter(state__in=OPEN_STATES).select_related("aircraft"):
        yield f"task {task.pk} on {task.aircraft}"
    rows = TriggerRule.objects.filter(operator_id=procedure.operator_id, is_current=True, is_enabled=True)
    for rule in rows:
        if any(raised.get("procedure_code") == procedure.code for raised in rule.content.get("raises", ())):
            yield f"rule {rule.code}"
    for requirement in procedure.requirement_set.filter(is_current=True, retired_on=None):
        yield f"requirement {requirement.code}"
