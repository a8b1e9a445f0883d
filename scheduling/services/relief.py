"""Approved relief for an inoperative item: categories as data, granted and closed by people, clocks kept."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time
from zoneinfo import ZoneInfo

from django.db import connection, transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason
from fleet.selectors.aircraft import aircraft_by_id
from fleet.selectors.meters import counters_at
from fleet.services.trail import note
from scheduling.due.relief import IN_DAYS, ReliefStatus, ReliefUnit, categories_from_data, relief_ends, stated
from scheduling.due.relief import ReliefCategory as CategoryFacts
from scheduling.gather.relief import COUNTER_OF, category_of, relief_states
from scheduling.models import Consequence, Relief, ReliefCategory


@dataclass(frozen=True, slots=True)
class NewRelief:
    """Relief as granted. `amount` and `unit` only where the category leaves them to the remarks of the item."""

    aircraft_id: int
    category: str
    item: str
    reference: str
    recorded_at: datetime
    restriction: str = "no flight into known or forecast icing"
    covers: str = Consequence.ICING
    amount: int | None = None
    unit: str = ReliefUnit.DAYS


@transaction.atomic
def write_category(
    *, actor: Actor, code: str, days: int | None, source: str, starts_at: time = time(0)
) -> ReliefCategory:
    """Write a repair category with its source; no days where the remarks of each item state them."""
    require(actor, Verb.GRANT_VARIATION)
    one = {"code": code, "amount": days, "unit": "days", "source": source, "starts_at": starts_at.isoformat()}
    facts = categories_from_data([one])[code]
    if not facts.source:
        raise _wrong("source", "", "is missing", "name the approved list and its revision")
    row, _ = ReliefCategory.objects.update_or_create(
        operator_id=actor.operator_id,
        code=code[:4],
        defaults={"days": facts.amount, "source": facts.source[:160], "starts_at": facts.starts_at},
    )
    note(actor, "write_relief_category", "relief category", row.code, f"Category {row.code}: {row.source}")
    return row


@transaction.atomic
def grant_relief(*, actor: Actor, grant: NewRelief) -> Relief:
    """Record approved relief; its clock runs from the record, days in the operator's own zone.

    Refuses a moment in the future, an unknown category, an amount where the category fixes it (or none where it
    does not), and a second open relief for the same item.
    """
    require(actor, Verb.GRANT_RELIEF)
    assert actor.user_id is not None  # noqa: S101 - the policy never lets the system grant
    aircraft = aircraft_by_id(actor, grant.aircraft_id)
    _check(grant)
    row = ReliefCategory.objects.filter(operator_id=actor.operator_id, code=grant.category).first()
    if row is None:
        raise _wrong("category", grant.category, "is not known here", "choose one of the categories")
    category = _as_granted(category_of(row), grant)
    if Relief.objects.filter(aircraft=aircraft, item=grant.item.strip(), closed_at=None).exists():
        raise Conflict(
            "relief_open", f"Relief for {grant.item} is open on {aircraft} already. Close it first."
        )
    zone = ZoneInfo(aircraft.operator.day_zone)
    counters = counters_at(aircraft.pk, grant.recorded_at).as_dict()
    counter = COUNTER_OF.get(category.unit)
    relief = Relief.objects.create(
        aircraft=aircraft,
        category=row,
        item=grant.item.strip(),
        reference=grant.reference.strip(),
        restriction=grant.restriction.strip(),
        covers=grant.covers,
        recorded_at=grant.recorded_at,
        amount=category.amount or 1,
        unit=category.unit,
        at_deferral=counters[counter] if counter else None,
        ends_at=relief_ends(category, grant.recorded_at, zone) if category.unit is ReliefUnit.DAYS else None,
        granted_by_id=actor.user_id,
    )
    refresh_reliefs([aircraft.pk])
    relief.refresh_from_db()
    words = f"Relief {relief.item} category {row.code} on {aircraft}: {relief.restriction}"
    note(actor, "grant_relief", "aircraft", aircraft.registration, words, {"relief": relief.pk})
    return relief


def _check(grant: NewRelief) -> None:
    for name, longest in (("item", 80), ("reference", 120), ("restriction", 200)):
        given = getattr(grant, name).strip()
        if not given:
            raise _wrong(name, "", "is missing", f"write the {name} as the approved list has it")
        if len(given) > longest:
            raise _wrong(name, given, "is too long", f"write at most {longest} characters")
    if grant.recorded_at > now():
        remedy = "enter when the fault was recorded"
        raise _wrong("recorded_at", grant.recorded_at.isoformat(), "lies in the future", remedy)
    if grant.covers not in Consequence.values:
        remedy = f"use one of {', '.join(Consequence.values)}"
        raise _wrong("covers", grant.covers, "is not known", remedy)


def _as_granted(category: CategoryFacts, grant: NewRelief) -> CategoryFacts:
    if grant.unit not in set(ReliefUnit):
        raise _wrong("unit", grant.unit, "is not known", f"use one of {', '.join(ReliefUnit)}")
    if grant.amount is None and category.amount is None:
        raise _wrong("amount", "", "is stated in the remarks of the item", "write what they state")
    if grant.amount is None:
        return category
    return stated(category, grant.amount, ReliefUnit(grant.unit))


@transaction.atomic
def close_relief(*, actor: Actor, relief_id: int, reason: str) -> Relief:
    """Close a relief: the item was mended, or relief is no longer claimed. A reason is kept."""
    require(actor, Verb.GRANT_RELIEF)
    relief = (
        Relief.objects.select_for_update(of=("self",))
        .filter(pk=relief_id, aircraft__operator_id=actor.operator_id)
        .select_related("aircraft", "category")
        .first()
    )
    if relief is None:
        raise NotFound("relief_not_found", "There is no such relief here.")
    if relief.closed_at is not None:
        raise Conflict("relief_closed", "This relief is closed already.")
    if not reason.strip():
        raise _wrong("reason", "", "is missing", "say what was done")
    relief.closed_at = now()
    relief.closed_reason = reason.strip()[:200]
    relief.save(update_fields=["closed_at", "closed_reason"])
    registration = relief.aircraft.registration
    note(actor, "close_relief", "aircraft", registration, f"Relief {relief.item} closed: {reason.strip()}")
    return relief


def refresh_reliefs(aircraft_ids: list[int]) -> int:
    """Write the end of clocks that count flights, flight days or hours once they are used up; how many ended."""
    if not _any_counts():
        return 0
    open_ones = Relief.objects.filter(aircraft_id__in=aircraft_ids, closed_at=None).exclude(
        unit=ReliefUnit.DAYS
    )
    rows = list(open_ones.select_related("aircraft__operator", "category"))
    if not rows:
        return 0
    states = relief_states(rows)
    ended = 0
    for row in rows:
        state = states[row.pk]
        ends_at = state.ends_at if ReliefUnit(row.unit) in IN_DAYS else None
        if ends_at is None and state.status is ReliefStatus.EXPIRED:
            ends_at = row.ends_at or max(now(), row.recorded_at)
        if ends_at != row.ends_at:
            Relief.objects.filter(pk=row.pk).update(ends_at=ends_at)
            ended += 1
    return ended


def _any_counts() -> bool:
    """Whether any open relief counts flying: asked at every flight, and nearly always none does."""
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT EXISTS (SELECT 1 FROM scheduling_relief WHERE closed_at IS NULL AND unit <> 'days')"
        )
        return bool(cursor.fetchone()[0])


def _wrong(field_name: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field_name, value[:60], remedy)
    return Invalid("bad_relief", reason.sentence(), reason)
