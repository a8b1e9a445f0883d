"""What a flight changes of a plain due item, from its kept figures alone: no limits read, no words made. Pure.

A plain item is whichever first with one limit a counter at most. Its due points do not move with a flight, only
what is left of them; so states can only worsen and the projected day follows the rate.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from scheduling.due.flying_plan import FlyingPlan, Stretch, stretches
from scheduling.due.forecast import Reach, reach
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


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept of one item. Counters in the order of COUNTERS, as the aircraft will show them; None: no limit."""

    due_day: Day
    due: tuple[int | None, int | None, int | None]
    soon_at: tuple[int | None, int | None, int | None]
    lawful_at: tuple[int | None, int | None, int | None]
    soon: Day
    unknown: Day
    reached: Day
    overdue: Day


@dataclass(frozen=True, slots=True)
class Moved:
    """What the columns are after a flight, days as `date.toordinal`."""

    soon: Day
    unknown: Day
    reached: Day
    overdue: Day
    projected: Day
    earliest: Day
    latest: Day
    order: int


@dataclass
class Ahead:
    """An aircraft's counters and use from a day on; answers are remembered, for many items ask the same."""

    shown: tuple[int, int, int]
    rate: Rate
    errors: ForecastErrors
    today: date
    plan: FlyingPlan | None = None
    pieces: dict[Measure, tuple[Stretch, ...]] = field(init=False)
    known: dict[tuple[Measure, int], Reach | None] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Cut the days to come once for each counter."""
        self.pieces = {one: stretches(self.plan, one, self.rate, self.today) for one in COUNTERS}

    def reach(self, measure: Measure, left: int) -> Reach | None:
        """In how many days so much is used up."""
        key = (measure, left)
        if key not in self.known:
            self.known[key] = reach(left, measure, self.rate, self.errors, self.pieces[measure])
        return self.known[key]


def moved(kept: Kept, ahead: Ahead) -> Moved:
    """The columns after a flight: due at 1100:00 h with a warning of ten hours, now 1092:00: due soon already.

    An item due at 1100:00 h and on 31 March, expected to fly its last hours by 12 March: projected 12 March.
    """
    soon, unknown, reached, overdue = kept.soon, kept.unknown, kept.reached, kept.overdue
    today = ahead.today.toordinal()
    days, firsts, lasts = [kept.due_day], [kept.due_day], [kept.due_day]
    for index, measure in enumerate(COUNTERS):
        due, shown = kept.due[index], ahead.shown[index]
        if due is None:
            continue
        soon = ALREADY if shown >= (kept.soon_at[index] or 0) else soon
        if shown >= due:
            soon = unknown = reached = ALREADY
            overdue = ALREADY if shown > (kept.lawful_at[index] or 0) else overdue
            days, firsts, lasts = [*days, today], [*firsts, today], [*lasts, today]
            continue
        found = ahead.reach(measure, due - shown)
        if found is not None:
            days.append(today + found.days)
            firsts.append(today + found.early)
            lasts.append(None if found.late is None else today + found.late)
    projected, earliest, latest = _least(days), _least(firsts), _least(lasts)
    order = order_of(reached, unknown, projected)
    return Moved(soon, unknown, reached, overdue, projected, earliest, latest, order)


def _least(days: list[Day]) -> Day:
    return min((day for day in days if day is not None), default=None)


def order_of(reached: Day, unknown: Day, projected: Day) -> int:
    """Where an item stands in the due list: by its projected day, what has come by its counters before all."""
    if reached == ALREADY:
        return FIRST_OF_ALL
    if unknown == ALREADY:
        return NOT_KNOWN
    return NO_DAY if projected is None else projected
