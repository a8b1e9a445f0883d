"""Lines of the maintenance programme: written as versions, never changed in place."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, TypeVar

from django.db import models, transaction
from django.db.models import F

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Invalid, NotFound, Reason, Stale
from fleet.models import AircraftType, ComponentKind
from fleet.services.trail import note
from scheduling.due.engine import paths_of
from scheduling.due.explain import rule_words
from scheduling.due.ladder import ladder_from_data
from scheduling.due.parse import limits_from_data, limits_to_data
from scheduling.due.terms import Limit, Limits, Since
from scheduling.due.written import Faults, amount_from_data
from scheduling.models import (
    Applicability,
    Consequence,
    DueFact,
    EventKind,
    Procedure,
    Requirement,
    Variation,
    VariationTable,
)
from scheduling.services.due_facts import reckon_items
from scheduling.services.due_tasks import lock_open_work


@dataclass(frozen=True, slots=True)
class WrittenRequirement:
    """One line as somebody writes it; codes name what they refer to, empty means none (of the type: all)."""

    code: str
    title: str
    ata: str
    limits: Mapping[str, Any]
    source: str
    consequence: str = Consequence.AIRWORTHINESS
    aircraft_type: str = ""
    component_kind: str = ""
    options_needed: tuple[str, ...] = ()
    options_barred: tuple[str, ...] = ()
    procedure: str = ""
    event_kind: str = ""
    is_airworthiness_limitation: bool = False
    is_directive: bool = False
    directive_allows_variation: bool = False
    variation_table_id: int | None = None
    design_caps: Mapping[str, Any] = field(default_factory=dict)
    ladder: Mapping[str, Any] = field(default_factory=dict)


@transaction.atomic
def write_requirement(
    *, actor: Actor, wanted: WrittenRequirement, read_version: int | None = None
) -> Requirement:
    """Write a line, or the next version of one; what was last done moves to the new limits where they match.

    Refuses limits without sense, naming each field. `read_version` is the version the writer saw; an older one
    than the present is refused (`changed_meanwhile`).
    """
    require(actor, Verb.EDIT_PROGRAMME)
    old = _current(actor, wanted.code, lock=True)
    if read_version is not None and read_version != (old.version if old else 0):
        raise Stale("changed_meanwhile", f"{wanted.code} was changed after you read it. Read it again.")
    row, limits = checked(actor, wanted, old)
    if old is not None:
        Requirement.objects.filter(pk=old.pk).update(is_current=False)
        row.version = old.version + 1
    row.save()
    lost = _carry_over(actor, old, row, limits) if old is not None else 0
    words = f"{row.code} version {row.version}: {rule_words(limits)}"
    note(actor, "write_requirement", "requirement", row.code, words, {"dues_not_carried_over": lost})
    reckon_items(Applicability.objects.filter(requirement=row))
    return row


@transaction.atomic
def retire_requirement(*, actor: Actor, code: str, reason: str) -> Requirement:
    """Take a line out of the programme, with a reason; it leaves the due list, its history stays."""
    require(actor, Verb.EDIT_PROGRAMME)
    row = requirement_for_change(actor, code)
    if not reason.strip():
        raise _wrong("reason", "", "is missing", "say why the line is no longer needed")
    row.retired_on = now().date()
    row.save(update_fields=["retired_on"])
    Applicability.objects.filter(requirement=row).update(is_active=False)
    DueFact.objects.filter(applicability__requirement=row).delete()
    note(actor, "retire_requirement", "requirement", row.code, f"{row.code} retired: {reason.strip()}")
    return row


def requirement_for_change(actor: Actor, code: str) -> Requirement:
    """The current version of a line, locked; a stranger's is not found."""
    row = _current(actor, code, lock=True)
    if row is None:
        raise NotFound("requirement_not_found", f"There is no requirement {code} here.")
    return row


def _current(actor: Actor, code: str, *, lock: bool = False) -> Requirement | None:
    rows = Requirement.objects.filter(operator_id=actor.operator_id, code=code, is_current=True)
    return (rows.select_for_update(of=("self",)) if lock else rows).first()


def checked(
    actor: Actor, wanted: WrittenRequirement, old: Requirement | None = None
) -> tuple[Requirement, Limits]:
    """The row as it would be saved, everything it names found and its limits read; saves nothing."""
    is_same = old is not None and old.limits == dict(wanted.limits)
    today = None if is_same else now().date()
    limits = limits_from_data(dict(wanted.limits), today=today, component=bool(wanted.component_kind))
    for name, longest in (("code", 40), ("title", 140), ("ata", 8), ("source", 160)):
        _text(name, getattr(wanted, name), longest)
    if wanted.consequence not in Consequence.values:
        remedy = f"use one of {', '.join(Consequence.values)}"
        raise _wrong("consequence", wanted.consequence, "is not known", remedy)
    if not wanted.event_kind and any(_is_since_event(limit) for _, limit in paths_of(limits)):
        raise _wrong("event_kind", "", "is missing for a limit since an event", "choose the kind of event")
    _check_caps(limits, wanted.design_caps)
    ladder_from_data(wanted.ladder)
    return _row(actor, wanted, limits), limits


def _row(actor: Actor, wanted: WrittenRequirement, limits: Limits) -> Requirement:
    return Requirement(
        operator_id=actor.operator_id,
        code=wanted.code,
        title=wanted.title.strip(),
        ata=wanted.ata.strip(),
        aircraft_type=_named(AircraftType, actor, "aircraft_type", wanted.aircraft_type),
        component_kind=_named(ComponentKind, actor, "component_kind", wanted.component_kind),
        options_needed=list(wanted.options_needed),
        options_barred=list(wanted.options_barred),
        limits=limits_to_data(limits),
        consequence=wanted.consequence,
        procedure=_named(Procedure, actor, "procedure", wanted.procedure),
        source=wanted.source.strip(),
        event_kind=_named(EventKind, actor, "event_kind", wanted.event_kind),
        is_airworthiness_limitation=wanted.is_airworthiness_limitation,
        is_directive=wanted.is_directive,
        directive_allows_variation=wanted.directive_allows_variation,
        variation_table=_table(actor, wanted.variation_table_id),
        design_caps=dict(wanted.design_caps),
        ladder=dict(wanted.ladder),
        written_by_id=actor.user_id,
        written_at=now(),
    )


def _is_since_event(limit: Limit) -> bool:
    return Since.EVENT in (limit.since, limit.first_since if limit.first is not None else None)


def _text(name: str, given: str, longest: int) -> None:
    if not given.strip():
        raise _wrong(name, "", "is missing", f"write the {name}")
    if len(given.strip()) > longest:
        raise _wrong(name, given, "is too long", f"write at most {longest} characters")


def _check_caps(limits: Limits, caps: Mapping[str, Any]) -> None:
    known = dict(paths_of(limits))
    faults = Faults()
    for path, amount in caps.items():
        if path not in known:
            faults.add(f"design_caps.{path}", amount, "names no limit", f"use {', '.join(known)}")
        else:
            amount_from_data(amount, known[path].measure, f"design_caps.{path}", faults)
    faults.raise_if_any()


Named = TypeVar("Named", AircraftType, ComponentKind, Procedure, EventKind)


def _named(model: type[Named], actor: Actor, name: str, code: str) -> Named | None:
    if not code:
        return None
    manager: models.Manager[Named] = model._default_manager
    row = manager.filter(operator_id=actor.operator_id, code=code).first()
    if row is None:
        raise _wrong(name, code, "is not known here", "choose one from the list")
    return row


def _table(actor: Actor, table_id: int | None) -> VariationTable | None:
    if table_id is None:
        return None
    row = VariationTable.objects.filter(pk=table_id, operator_id=actor.operator_id).first()
    if row is None:
        raise _wrong("variation_table", str(table_id), "is not known here", "choose one from the list")
    return row


def matched_paths(old: Limits, new: Limits) -> dict[str, str]:
    """Which new limit continues which old one: `{"1": "2"}` says that old "1" is now "2".

    Limits match by measure and mark; at the same place first, otherwise where only one is left to match.
    """
    before, after = dict(paths_of(old)), dict(paths_of(new))
    found = {path: path for path, limit in before.items() if path in after and _is_like(limit, after[path])}
    for path, limit in before.items():
        free = [p for p, other in after.items() if p not in found.values() and _is_like(limit, other)]
        if path not in found and len(free) == 1:
            found[path] = free[0]
    return found


def _is_like(left: Limit, right: Limit) -> bool:
    return (left.measure, left.since) == (right.measure, right.since)


def _carry_over(actor: Actor, old: Requirement, new: Requirement, limits: Limits) -> int:
    """Point applicabilities at the new version, dues and open variations at the limits that continue theirs."""
    moves = matched_paths(limits_from_data(old.limits), limits)
    lost = 0
    lock_open_work(Applicability.objects.filter(requirement=old))
    rows = list(Applicability.objects.filter(requirement=old).select_for_update(of=("self",)))
    for row in rows:
        kept = {moves[path]: due for path, due in row.last_due.items() if path in moves}
        lost += len(row.last_due) - len(kept)
        row.last_due, row.requirement = kept, new
    Applicability.objects.bulk_update(rows, ["last_due", "requirement"], batch_size=500)
    Applicability.objects.filter(requirement=new).update(version=F("version") + 1)
    _carry_variations(actor, new, moves)
    return lost


def _carry_variations(actor: Actor, new: Requirement, moves: Mapping[str, str]) -> None:
    granted = Variation.objects.filter(
        applicability__requirement=new, used_at=None, withdrawn_at=None
    ).order_by("pk")
    for row in granted:
        if row.path not in moves:
            row.withdrawn_at = now()
            row.save(update_fields=["withdrawn_at"])
            words = f"Variation of {row.amount} {row.measure} ended: the limit is no longer in {new.code}"
            note(actor, "withdraw_variation", "variation", row.pk, words)
        elif moves[row.path] != row.path:
            row.path = moves[row.path]
            row.save(update_fields=["path"])


def _wrong(field_name: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field_name, value[:60], remedy)
    return Invalid("bad_requirement", reason.sentence(), reason)
