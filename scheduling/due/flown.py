"""What a flight changes of a plain due item, from its kept figures alone: no limits read, no words made. Pure.

A plain item is whichever first with one limit a counter at most. Its due points do not move with a flight, only
what is left of them; so states can only worsen and the projected day follows the rate. A flight asks this of every
item of its aircraft while the flight waits to be kept: hence bare tuples.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from scheduling.due.flying_plan import FlyingPlan, stretches
from scheduling.due.forecast import reach
from scheduling.due.forecast_errors import ForecastErrors
from scheduling.due.levels import ALREADY, Day
from scheduling.due.terms import Measure
from scheduling.due.use import Rate

COUNTERS = (Measure.HOURS, Measure.LANDINGS, Measure.CYCLES)

FIRST_OF_ALL = 0
NOT_KNOWN = 1
NO_DAY = 9_999_998
NOTHING_LEFT = 9_999_999
"""What sorts the due list where no day does: reached by a counter, not known, no day in sight, complete."""


class Moved(NamedTuple):
    """The columns of an item that flying moves, days as `date.toordinal`: how it stands, then when and where."""

    soon: Day
    unknown: Day
    reached: Day
    overdue: Day
    projected: Day
    earliest: Day
    latest: Day
    order: int


Counts = tuple[int | None, int | None, int | None]


class Kept(NamedTuple):
    """What is kept of one item. Counters in the order of COUNTERS, as the aircraft will show them; None: no limit."""

    due_day: Day
    due: Counts
    soon_at: Counts
    lawful_at: Counts
    stands: tuple[Day, Day, Day, Day]


Probable = tuple[int, int, int | None]
"""The day a counter will probably reach, and its interval; as Reach has them, but as days of the calendar."""


@dataclass
class Ahead:
    """An aircraft's counters and use from a day on; answers are remembered, for many items ask the same."""

    shown: tuple[int, int, int]
    rate: Rate
    errors: ForecastErrors
    today: date
    plan: FlyingPlan | None = None
    counters: tuple[Counter, ...] = field(init=False)

    def __post_init__(self) -> None:
        """Cut the days to come once for each counter."""
        self.counters = tuple(
            Counter(measure, shown, self) for measure, shown in zip(COUNTERS, self.shown, strict=True)
        )


class Counter(dict[int, Probable | None]):
    """One counter of an aircraft: the probable day by what is left, reckoned when first asked for."""

    def __init__(self, measure: Measure, shown: int, ahead: Ahead) -> None:
        super().__init__()
        self.shown, self.today = shown, ahead.today.toordinal()
        self.pieces = stretches(ahead.plan, measure, ahead.rate, ahead.today)
        self.spread_for = ahead.errors.spreads(measure, ahead.rate.regularity).at

    def __missing__(self, left: int) -> Probable | None:
        found, answer = reach(left, self.pieces, self.spread_for), None
        if found is not None:
            days, early, late, _ = found
            answer = (self.today + days, self.today + early, None if late is None else self.today + late)
        self[left] = answer
        return answer


def moved(kept: Kept, ahead: Ahead) -> Moved:
    """The columns after a flight: due at 1100:00 h with a warning of ten hours, now 1092:00: due soon already.

    An item due at 1100:00 h and on 31 March, expected to fly its last hours by 12 March: projected 12 March.
    """
    day, dues, soons, lawfuls, (soon, unknown, reached, overdue) = kept
    projected = earliest = latest = day
    for counter, due, soon_at, lawful_at in zip(ahead.counters, dues, soons, lawfuls, strict=True):
        if due is None:
            continue
        shown, today = counter.shown, counter.today
        if shown >= (soon_at or 0):
            soon = ALREADY
        if shown >= due:
            unknown = reached = ALREADY
            overdue = ALREADY if shown > (lawful_at or 0) else overdue
            found: Probable | None = (today, today, today)
        else:
            found = counter[due - shown]
        if found is not None:
            likely, first, last = found
            projected = likely if projected is None or likely < projected else projected
            earliest = first if earliest is None or first < earliest else earliest
            latest = last if latest is None or (last is not None and last < latest) else latest
    order = order_of(reached, unknown, projected)
    return Moved(soon, unknown, reached, overdue, projected, earliest, latest, order)


def order_of(reached: Day, unknown: Day, projected: Day) -> int:
    """Where an item stands in the due list: by its projected day, what has come by its counters before all."""
    if reached == ALREADY:
        return FIRST_OF_ALL
    if unknown == ALREADY:
        return NOT_KNOWN
    return NO_DAY if projected is None else projected
