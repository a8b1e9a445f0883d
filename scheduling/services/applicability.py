"""Where lines of the programme apply, and what was done before this operator kept its records here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from django.db import transaction
from django.db.models import F, QuerySet

from fleet.common.actor import Actor, Verb, require
from fleet.common.errors import Invalid, NotFound, Reason
from fleet.models import Aircraft, Component
from fleet.services.trail import note
from scheduling.due.engine import paths_of
from scheduling.due.sense import Fault, fault_of_first_limit, faults_of_done, faults_of_installation
from scheduling.due.terms import Mark, Since
from scheduling.gather.due import DueItem, due_items, mark_to_data
from scheduling.models import Applicability, DueFact, Requirement
from scheduling.services.due_facts import reckon_items
from scheduling.services.due_tasks import lock_open_work
from scheduling.services.requirements import requirement_for_change


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A subject the requirement could not be put on, and why."""

    subject: str
    reasons: tuple[Reason, ...]


@dataclass(frozen=True, slots=True)
class Applied:
    """What putting a requirement where it belongs changed."""

    added: int
    stopped: int
    kept: int
    left_out: tuple[LeftOut, ...] = ()


@dataclass(frozen=True, slots=True)
class LastDone:
    """What was last done, as the papers say: the day, and counters by measure (`hours` in minutes)."""

    day: date | None
    counters: Mapping[str, int] = field(default_factory=dict)
    proof: str = ""
    note: str = ""


@transaction.atomic
def apply_requirement(*, actor: Actor, code: str) -> Applied:
    """Put a line on every aircraft (or component) its type, options and kind name, and off those they no longer do.

    A subject on which the first limit is already past, or whose component was never fitted, is left out with its
    reasons: apply it there singly, with its last done.
    """
    require(actor, Verb.EDIT_PROGRAMME)
    row = requirement_for_change(actor, code)
    wanted = set(subjects_of(row).values_list("pk", flat=True))
    name = "component_id" if row.component_kind_id else "aircraft_id"
    there = {getattr(one, name): one for one in Applicability.objects.filter(requirement=row)}
    fresh = Applicability.objects.bulk_create(
        [Applicability(requirement=row, code=row.code, **{name: pk}) for pk in sorted(wanted - set(there))]
    )
    again = [one.pk for pk, one in there.items() if pk in wanted and not one.is_active]
    Applicability.objects.filter(pk__in=again).update(is_active=True, version=F("version") + 1)
    stopped = [one.pk for pk, one in there.items() if pk not in wanted and one.is_active]
    _stop(stopped)
    left_out = _take_back(Applicability.objects.filter(pk__in=[one.pk for one in fresh]))
    applied = Applied(
        len(fresh) + len(again) - len(left_out),
        len(stopped),
        len(there) - len(stopped) - len(again),
        left_out,
    )
    words = f"{row.code} applied: {applied.added} added, {applied.stopped} stopped, {len(left_out)} left out"
    note(actor, "apply_requirement", "requirement", row.code, words)
    reckon_items(Applicability.objects.filter(requirement=row))
    return applied


@transaction.atomic
def apply_programme(*, actor: Actor) -> dict[str, Applied]:
    """Put every line where it belongs, as after a new aircraft came: by code, what changed and what was left out."""
    require(actor, Verb.EDIT_PROGRAMME)
    lines = Requirement.objects.filter(operator_id=actor.operator_id, is_current=True, retired_on=None)
    codes = list(lines.order_by("code").values_list("code", flat=True))
    return {code: apply_requirement(actor=actor, code=code) for code in codes}


def subjects_of(row: Requirement) -> QuerySet[Aircraft] | QuerySet[Component]:
    """The aircraft a line applies to, or the components: those fitted to such aircraft, and those in store."""
    aircraft = Aircraft.objects.filter(operator_id=row.operator_id, withdrawn_on=None)
    if row.aircraft_type_id:
        aircraft = aircraft.filter(aircraft_type_id=row.aircraft_type_id)
    for option in row.options_needed:
        aircraft = aircraft.filter(options__code=option)
    if row.options_barred:
        aircraft = aircraft.exclude(options__code__in=row.options_barred)
    if row.component_kind_id is None:
        return aircraft
    components = Component.objects.filter(
        operator_id=row.operator_id, kind_id=row.component_kind_id, scrapped_on=None
    )
    elsewhere = Aircraft.objects.filter(operator_id=row.operator_id).exclude(pk__in=aircraft.values("pk"))
    return components.exclude(
        installations__removed_at=None, installations__aircraft__in=elsewhere.values("pk")
    )


def _take_back(rows: QuerySet[Applicability]) -> tuple[LeftOut, ...]:
    """Remove what would make no sense from its first day, and say why."""
    left_out = []
    for item in due_items(rows):
        reasons = reasons_against(item)
        if reasons:
            left_out.append(LeftOut(item.subject, reasons))
            Applicability.objects.filter(pk=item.id).delete()
    return tuple(left_out)


def reasons_against(item: DueItem) -> tuple[Reason, ...]:
    """Why an item may not start as it stands: its first limit is past, or its component was never fitted."""
    found: list[Fault] = []
    for path, limit in paths_of(item.requirement.limits):
        found += faults_of_installation(limit, item.facts)
        found += fault_of_first_limit(limit, path, item.facts)
    return tuple(dict.fromkeys(_reason(fault) for fault in found))


def _reason(fault: Fault) -> Reason:
    name, value, detail, remedy = fault
    return Reason(detail, name, str(value)[:60], remedy)


@transaction.atomic
def apply_to(
    *, actor: Actor, code: str, subject: Aircraft | Component, last_done: LastDone | None = None
) -> Applicability:
    """Put a line on one aircraft or component, with its last done where there is one. Refuses what makes no sense."""
    require(actor, Verb.EDIT_PROGRAMME)
    row = requirement_for_change(actor, code)
    if subject.operator_id != actor.operator_id:
        raise NotFound("subject_not_found", "There is no such aircraft or component here.")
    wanted = subjects_of(row)
    if not isinstance(subject, wanted.model) or not wanted.filter(pk=subject.pk).exists():
        raise _wrong(
            "subject", str(subject), f"is not what {row.code} is for", "check its type, options and kind"
        )
    place = {"component": subject} if isinstance(subject, Component) else {"aircraft": subject}
    applied, _ = Applicability.objects.get_or_create(
        requirement=row, code=row.code, **place, defaults={"is_active": True}
    )
    Applicability.objects.filter(pk=applied.pk, is_active=False).update(is_active=True)
    if last_done is not None:
        return set_last_done(actor=actor, applicability_id=applied.pk, last_done=last_done)
    item = due_items(Applicability.objects.filter(pk=applied.pk))[0]
    reasons = reasons_against(item)
    if reasons:
        raise Invalid("bad_start", reasons[0].sentence(), *reasons)
    note(actor, "apply_requirement", "applicability", applied.pk, f"{row.code} applies to {subject}")
    reckon_items(Applicability.objects.filter(pk=applied.pk))
    return applied


@transaction.atomic
def set_last_done(*, actor: Actor, applicability_id: int, last_done: LastDone) -> Applicability:
    """Enter what was last done from the papers: an opening balance, or a correction of one.

    Refuses a day in the future, a counter above the meter, and a missing figure that a limit counts from.
    """
    require(actor, Verb.EDIT_PROGRAMME)
    row = applicability_for_change(actor, applicability_id)
    item = due_items(Applicability.objects.filter(pk=row.pk))[0]
    mark = Mark(last_done.day, dict(last_done.counters), last_done.proof or None)
    reasons = reasons_against_done(item, mark)
    if reasons:
        raise Invalid("bad_last_done", reasons[0].sentence(), *reasons)
    row.done_on = last_done.day
    row.last_done = mark_to_data(mark)
    row.last_due = {}
    row.proof = last_done.proof[:80]
    row.opening_note = (last_done.note or "entered from the papers")[:200]
    row.version += 1
    row.save()
    words = f"{row.code} on {item.subject}: last done {last_done.day or 'entered'}"
    note(actor, "set_last_done", "applicability", row.pk, words, {"counters": dict(last_done.counters)})
    reckon_items(Applicability.objects.filter(pk=row.pk))
    return row


def reasons_against_done(item: DueItem, mark: Mark) -> tuple[Reason, ...]:
    """What is wrong with a last-done: only limits that count from it need its figures."""
    found: list[Fault] = []
    for _, limit in paths_of(item.requirement.limits):
        found += faults_of_installation(limit, item.facts)
        faults = list(faults_of_done(limit, item.facts, mark))
        if limit.since is not Since.LAST_DONE:
            faults = [fault for fault in faults if fault[2] != "is missing"]
        found += faults
    return tuple(dict.fromkeys(_reason(fault) for fault in found))


@transaction.atomic
def stop_applicability(*, actor: Actor, applicability_id: int, reason: str) -> Applicability:
    """Take one item off the due list, with a reason; applying the requirement again brings it back."""
    require(actor, Verb.EDIT_PROGRAMME)
    row = applicability_for_change(actor, applicability_id)
    if not reason.strip():
        raise _wrong("reason", "", "is missing", "say why it does not apply")
    _stop([row.pk])
    note(actor, "stop_applicability", "applicability", row.pk, f"{row} stopped: {reason.strip()}")
    row.refresh_from_db()
    return row


def applicability_for_change(actor: Actor, applicability_id: int) -> Applicability:
    """One item and its open tasks, locked; a stranger's is not found."""
    mine = Applicability.objects.filter(requirement__operator_id=actor.operator_id, is_active=True)
    if mine.filter(pk=applicability_id).exists():
        lock_open_work([applicability_id])
    locked = mine.select_for_update(of=("self",)).select_related("requirement", "aircraft", "component")
    row = locked.filter(pk=applicability_id).first()
    if row is None:
        raise NotFound("due_item_not_found", "There is no such due item here.")
    return row


def _stop(ids: list[int]) -> None:
    Applicability.objects.filter(pk__in=ids).update(is_active=False, version=F("version") + 1)
    DueFact.objects.filter(pk__in=ids).delete()


def _wrong(field_name: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field_name, value[:60], remedy)
    return Invalid("bad_applicability", reason.sentence(), reason)
