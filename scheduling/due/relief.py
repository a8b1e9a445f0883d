"""Clocks of recorded relief for an inoperative item: categories as data, days in the operator's own
zone. Pure.

A day is midnight to midnight in the zone the operator chose (coordinated universal time or local). The day on
which the fault was recorded is not counted. Hours, cycles and flights count from the deferral itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from enum import StrEnum
from typing import Any
from zoneinfo import ZoneInfo

from fleet.common.wording import counted, hours
from fleet.common.wording import day as day_words
from scheduling.due.calendar import add_days, end_of_day, last_day_exclusive
from scheduling.due.written import Faults, read_choice, read_text


class ReliefUnit(StrEnum):
    """What a relief interval counts."""

    DAYS = "days"
    FLIGHT_DAYS = "flight_days"
    HOURS = "hours"
    CYCLES = "cycles"
    FLIGHTS = "flights"


LARGEST_AMOUNT = 32_000
IN_DAYS = frozenset({ReliefUnit.DAYS, ReliefUnit.FLIGHT_DAYS})
UNIT_WORDS = {
    ReliefUnit.DAYS: ("day", "days"),
    ReliefUnit.FLIGHT_DAYS: ("flight day", "flight days"),
    ReliefUnit.CYCLES: ("cycle", "cycles"),
    ReliefUnit.FLIGHTS: ("flight", "flights"),
}


class ReliefStatus(StrEnum):
    """Whether the relief still holds."""

    RUNNING = "running"
    EXPIRED = "expired"


@dataclass(frozen=True, slots=True)
class ReliefCategory:
    """A repair category. `amount` is None where the remarks of the item state it; hours are in minutes.

    `starts_at` is when the clock starts on the day after the record, which authorities put at 00:00 or 00:01.
    """

    code: str
    amount: int | None
    unit: ReliefUnit
    source: str
    starts_at: time = time(0)


@dataclass(frozen=True, slots=True)
class ReliefState:
    """How a relief stands: when its clock started and ends, what is left, and the same in words."""

    status: ReliefStatus
    starts_at: datetime | None
    ends_at: datetime | None
    left: int | None
    words: str


def stated(category: ReliefCategory, amount: int, unit: ReliefUnit) -> ReliefCategory:
    """A category whose interval the remarks state: A with 2 flight days. Raises LimitError at zero or
    below."""
    faults = Faults()
    if category.amount is not None:
        faults.add("amount", amount, f"is fixed for category {category.code}", "leave it out")
    if amount < 1:
        faults.add("amount", amount, "is zero or below", "write what the remarks state")
    faults.raise_if_any()
    return replace(category, amount=amount, unit=unit)


def _amount(category: ReliefCategory) -> int:
    if category.amount is None:
        faults = Faults()
        faults.add("amount", category.code, "is stated in the remarks of the item", "write what they state")
        faults.raise_if_any()
    assert category.amount is not None  # noqa: S101 - refused just above
    return category.amount


def _local_day(moment: datetime, zone: ZoneInfo, field: str) -> date:
    if moment.tzinfo is None:
        faults = Faults()
        faults.add(field, moment, "has no time zone", "give the moment with its zone")
        faults.raise_if_any()
    return moment.astimezone(zone).date()


def relief_starts(category: ReliefCategory, recorded_at: datetime, zone: ZoneInfo) -> datetime:
    """When the clock starts: recorded 26 January 10:00, it starts at the midnight that ends the 26th."""
    day = add_days(_local_day(recorded_at, zone, "recorded_at"), 1)
    return datetime.combine(day, category.starts_at, zone)


def relief_ends(
    category: ReliefCategory, recorded_at: datetime, zone: ZoneInfo, flights: Sequence[datetime] = ()
) -> datetime | None:
    """The moment a relief in days ends, in the operator's zone; None while its flight days are not used up.

    Recorded 26 January 10:00 with three days: the midnight ending 29 January. `flights` are the moments
    at which flights of this aircraft started. Raises LimitError for a moment without a zone, a category
    without amount, and units that count from a counter (see relief_by_counter).
    """
    amount = _amount(category)
    recorded = _local_day(recorded_at, zone, "recorded_at")
    if category.unit is ReliefUnit.DAYS:
        return end_of_day(last_day_exclusive(recorded, amount), zone)
    if category.unit is ReliefUnit.FLIGHT_DAYS:
        used = flight_days(recorded, flights, zone)
        return end_of_day(used[amount - 1], zone) if len(used) >= amount else None
    faults = Faults()
    faults.add(
        "unit", category.unit.value, "does not count days", "count it from the counter at the deferral"
    )
    faults.raise_if_any()
    return None


def flight_days(recorded: date, flights: Sequence[datetime], zone: ZoneInfo) -> list[date]:
    """The days after the record on which at least one flight started: two flights on one day are one day."""
    days = {_local_day(start, zone, "flights") for start in flights}
    return sorted(day for day in days if day > recorded)


@dataclass(frozen=True, slots=True)
class ReliefClock:
    """A running relief: the category as granted, when it was recorded, the day-boundary zone, flights
    since."""

    category: ReliefCategory
    recorded_at: datetime
    zone: ZoneInfo
    flights: tuple[datetime, ...] = ()


def relief_state(clock: ReliefClock, now: datetime) -> ReliefState:
    """How a relief in days or flight days stands at a moment; from the ending midnight on it is expired."""
    category = clock.category
    today = _local_day(now, clock.zone, "now")
    starts_at = relief_starts(category, clock.recorded_at, clock.zone)
    ends_at = relief_ends(category, clock.recorded_at, clock.zone, clock.flights)
    has_expired = ends_at is not None and now >= ends_at
    if category.unit is ReliefUnit.FLIGHT_DAYS:
        recorded = _local_day(clock.recorded_at, clock.zone, "recorded_at")
        left = _amount(category) - len(flight_days(recorded, clock.flights, clock.zone))
    else:
        assert ends_at is not None  # noqa: S101 - plain days always have an end
        left = (add_days(ends_at.date(), -1) - today).days
    left = max(left, 0)
    status = ReliefStatus.EXPIRED if has_expired else ReliefStatus.RUNNING
    return ReliefState(status, starts_at, ends_at, left, _words(category, status, ends_at, left))


def relief_by_counter(category: ReliefCategory, at_deferral: int, now: int) -> ReliefState:
    """How a relief in hours (minutes), cycles or flights stands: three flights from 2400 end at 2403.

    Raises LimitError for units in days and for a counter below the one at the deferral.
    """
    faults = Faults()
    if category.unit in IN_DAYS:
        faults.add("unit", category.unit.value, "counts days", "ask relief_state")
    if now < at_deferral:
        faults.add("now", now, "is below the counter at the deferral", "check both readings")
    faults.raise_if_any()
    left = max(at_deferral + _amount(category) - now, 0)
    status = ReliefStatus.RUNNING if left else ReliefStatus.EXPIRED
    return ReliefState(status, None, None, left, _words(category, status, None, left))


def _words(category: ReliefCategory, status: ReliefStatus, ends_at: datetime | None, left: int) -> str:
    head = f"Relief category {category.code}"
    end = "" if ends_at is None else f" at the midnight ending {day_words(add_days(ends_at.date(), -1))}"
    zone = "" if ends_at is None else f" ({ends_at.tzinfo})"
    if status is ReliefStatus.EXPIRED:
        return f"{head} expired{end}{zone}: no dispatch until it is repaired."
    size = hours(left) if category.unit is ReliefUnit.HOURS else counted(left, *UNIT_WORDS[category.unit])
    return f"{head} runs: {size} left" + (f", it ends{end}{zone}." if ends_at else ".")


def categories_from_data(data: Sequence[Mapping[str, Any]]) -> dict[str, ReliefCategory]:
    """Read categories by code: `[{"code": "B", "amount": 3, "unit": "days", "source": "..."}]`.

    An amount of null means that the remarks state it. Raises LimitError naming every fault.
    """
    faults = Faults()
    found: dict[str, ReliefCategory] = {}
    for number, one in enumerate(data):
        field = f"categories[{number}]"
        code = read_text(one.get("code"), f"{field}.code", faults)
        unit = read_choice(one.get("unit"), ReliefUnit, f"{field}.unit", faults)
        amount = one.get("amount")
        is_whole = isinstance(amount, int) and not isinstance(amount, bool)
        if amount is not None and not (is_whole and 1 <= amount <= LARGEST_AMOUNT):
            detail = f"is no whole number from 1 to {LARGEST_AMOUNT}"
            faults.add(f"{field}.amount", amount, detail, "write how many, or null")
        if not code or code in found:
            faults.add(f"{field}.code", code, "is missing or given twice", "give each category one code")
        starts_at = _time(one.get("starts_at", "00:00"), f"{field}.starts_at", faults)
        source = read_text(one.get("source"), f"{field}.source", faults)
        if unit is not None:
            found[code] = ReliefCategory(code, amount, unit, source, starts_at)
    faults.raise_if_any()
    return found


def _time(given: object, field: str, faults: Faults) -> time:
    try:
        return time.fromisoformat(str(given))
    except ValueError:
        faults.add(field, given, "is no time of day", "write hours and minutes: 00:01")
        return time(0)
