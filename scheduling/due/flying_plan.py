"""What the controller plans to fly, day by day, in place of the usual rate: plans and every what-if. Pure."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise

from fleet.quantities import refused
from scheduling.due.terms import Measure
from scheduling.due.use import Rate

MINUTES_A_DAY = 1440


@dataclass(frozen=True, slots=True)
class PlannedUse:
    """What is planned for each day from `first` to `last` (both counted; None: until further notice).

    Landings and cycles left open are taken as usual for that many minutes.
    """

    first: date
    last: date | None
    minutes: int
    landings: int | Decimal | None = None
    cycles: int | Decimal | None = None


@dataclass(frozen=True, slots=True)
class FlyingPlan:
    """Ranges in order of time that never overlap; made by `flying_plan`."""

    ranges: tuple[PlannedUse, ...]


@dataclass(frozen=True, slots=True)
class Stretch:
    """`thousandths` a day from day `start` up to, not including, day `end`, counted from today; None: for good."""

    start: int
    end: int | None
    thousandths: int


def flying_plan(ranges: Iterable[PlannedUse]) -> FlyingPlan:
    """Put ranges in order, refusing overlaps, a last day before the first, and more than 24 hours a day.

    Two ranges, June and May, come back as May and June.
    """
    ordered = tuple(sorted(ranges, key=lambda planned: planned.first))
    for planned in ordered:
        _check_range(planned)
    for earlier, later in pairwise(ordered):
        if earlier.last is None or earlier.last >= later.first:
            detail = f"overlaps the range that starts on {earlier.first.isoformat()}"
            raise refused(
                "plan_overlaps", "first", later.first, detail, "let each day stand in one range only"
            )
    return FlyingPlan(ordered)


def _check_range(planned: PlannedUse) -> None:
    if planned.last is not None and planned.last < planned.first:
        detail = f"is before the first day {planned.first.isoformat()}"
        raise refused("plan_backwards", "last", planned.last, detail, "give the first day or a later one")
    if not 0 <= planned.minutes <= MINUTES_A_DAY:
        detail = "is not a day's flying"
        raise refused("plan_minutes", "minutes", planned.minutes, detail, "enter 0 to 1440 minutes a day")
    for name, count in (("landings", planned.landings), ("cycles", planned.cycles)):
        if count is not None and count < 0:
            raise refused("plan_count", name, count, "is below zero", "enter 0 or more, or leave it empty")


def flies_every_day(minutes: int, from_day: date, landings: int | Decimal | None = None) -> FlyingPlan:
    """The what-if plan: `flies_every_day(360, today)` is six hours a day from today on."""
    return flying_plan([PlannedUse(from_day, None, minutes, landings)])


def planned_thousandths(planned: PlannedUse, measure: Measure, usual: Rate) -> int:
    """Thousandths a day of one measure: 360 minutes planned, one landing an hour as usual, are 6000 of landings."""
    given = {
        Measure.HOURS: planned.minutes,
        Measure.LANDINGS: planned.landings,
        Measure.CYCLES: planned.cycles,
        Measure.FLIGHT_DAYS: int(planned.minutes > 0),
    }
    count = given.get(measure)
    if count is not None:
        return int(count * 1000)
    minutes = usual.used.get(Measure.HOURS, 0)
    return planned.minutes * 1000 * usual.used.get(measure, 0) // minutes if minutes else 0


def stretches(plan: FlyingPlan | None, measure: Measure, usual: Rate, today: date) -> tuple[Stretch, ...]:
    """The days from today on, cut where the use a day changes; the last stretch never ends.

    Usual 100 minutes and 60 planned for tomorrow only: (0, 1, 100000), (1, 2, 60000), (2, None, 100000).
    """
    pieces: list[Stretch] = []
    cursor = 0
    for planned in plan.ranges if plan else ():
        if planned.last is not None and planned.last < today:
            continue
        start = max(0, (planned.first - today).days)
        if start > cursor:
            pieces.append(Stretch(cursor, start, usual.used.get(measure, 0)))
        amount = planned_thousandths(planned, measure, usual)
        if planned.last is None:
            return (*pieces, Stretch(start, None, amount))
        cursor = (planned.last - today).days + 1
        pieces.append(Stretch(start, cursor, amount))
    return (*pieces, Stretch(cursor, None, usual.used.get(measure, 0)))
