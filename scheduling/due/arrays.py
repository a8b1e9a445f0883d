"""What flying, or a newly measured rate, changes of plain due items: whole columns at a time. Pure, with numpy.

A plain item is whichever first with one limit a counter at most. Its due points do not move with a flight, only
what is left of them; so states can only worsen and the projected day follows the rate. A flight asks this of every
item of its aircraft while it waits to be kept, a morning's new rates of every item of a fleet: hence columns, not
objects. Item by item these are the answers of `levels.levels_of` and `outlook.outlook_of`.

Whole numbers are 32-bit; days are those of `date.toordinal`; hours are minutes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from scheduling.due.flying_plan import FlyingPlan, Stretch, stretches
from scheduling.due.forecast import FARTHEST_DAYS
from scheduling.due.forecast_errors import HORIZONS, ErrorBand, ForecastErrors, Spreads
from scheduling.due.levels import ALREADY, FIRST_OF_ALL, NO_DAY, NOT_KNOWN
from scheduling.due.terms import Measure
from scheduling.due.use import Rate

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

COUNTERS = (Measure.HOURS, Measure.LANDINGS, Measure.CYCLES)

NONE = np.int32(2**31 - 1)
"""Stands for None in every column: no such limit, never by the calendar, no day in sight."""

BEYOND = FARTHEST_DAYS + 1
LONGEST = HORIZONS[-1]
CHUNK = 65_536


@dataclass(frozen=True, slots=True)
class Items:
    """What is kept of plain items, one a column: the aircraft's place in the fleet, then due points and days.

    `due`, `soon_at`, `lawful_at`: (3, items) in the order of COUNTERS, as the aircraft will show them. `due_day`:
    by the calendar. `stands`: (4, items), the days from which it is due soon, not known, due, overdue.
    """

    aircraft: Indices
    due_day: Ints
    due: Ints
    soon_at: Ints
    lawful_at: Ints
    stands: Ints


@dataclass(frozen=True, slots=True)
class Ahead:
    """One aircraft from a day on: its counters in the order of COUNTERS, its rate, errors of forecasts, and plan."""

    shown: tuple[int, int, int]
    rate: Rate
    errors: ForecastErrors
    today: date
    plan: FlyingPlan | None = None


class Fleet:
    """Several aircraft from a day on, as columns."""

    def __init__(self, aircraft: Sequence[Ahead]) -> None:
        self.today: Ints = np.array([one.today.toordinal() for one in aircraft], np.int32)
        self.counters = tuple(_Counter(place, aircraft) for place in range(len(COUNTERS)))


def moved(items: Items, fleet: Fleet) -> Ints:
    """The eight columns that flying moves: soon, unknown, reached, overdue; projected, earliest, latest, order.

    Due at 1 100:00 h with a warning of ten hours, now 1 092:00 h: due soon already. Due at 1 100:00 h and on 31 March,
    expected to fly its last hours by 12 March: projected 12 March.
    """
    found = np.empty((8, items.due_day.size), np.int32)
    # what is never used up is divided by nothing: see _Counter
    with np.errstate(divide="ignore", invalid="ignore"):
        for part in _parts(items.due_day.size):
            piece = Items(
                items.aircraft[part],
                items.due_day[part],
                items.due[:, part],
                items.soon_at[:, part],
                items.lawful_at[:, part],
                items.stands[:, part],
            )
            _move(piece, fleet, found[:, part])
    return found


def _parts(rows: int) -> Iterator[slice]:
    """Pieces small enough to stay in the processor's cache."""
    for start in range(0, rows, CHUNK):
        yield slice(start, min(rows, start + CHUNK))


def _move(items: Items, fleet: Fleet, found: Ints) -> None:
    stands, days = found[:4], found[4:7]
    stands[:] = items.stands
    ahead = np.full(days.shape, np.int32(BEYOND))
    for place, counter in enumerate(fleet.counters):
        rows = np.flatnonzero(items.due[place] != NONE)
        if rows.size:
            _by_counter(items, place, counter, rows, stands, ahead)
    np.add(ahead, fleet.today.take(items.aircraft), out=days)
    np.maximum(days, np.multiply(ahead == BEYOND, NONE), out=days)
    np.minimum(days, items.due_day, out=days)
    _, unknown, reached, _, projected, _, _, order = found
    np.minimum(projected, NO_DAY, out=order)
    np.minimum(order, np.where(unknown == ALREADY, np.int32(NOT_KNOWN), NONE), out=order)
    np.minimum(order, np.where(reached == ALREADY, np.int32(FIRST_OF_ALL), NONE), out=order)


def _by_counter(
    items: Items, place: int, counter: _Counter, rows: Indices, stands: Ints, ahead: Ints
) -> None:
    """What one counter says of the items that have a limit by it: worse states, and fewer days ahead."""
    owner = items.aircraft.take(rows)
    shown = counter.shown.take(owner)
    left = items.due[place].take(rows) - shown
    soon, unknown, is_reached, overdue = stands
    soon[rows] = soon.take(rows) * (shown < items.soon_at[place].take(rows))
    here = np.flatnonzero(left <= 0)
    reached = rows.take(here)
    past = reached[shown.take(here) > items.lawful_at[place].take(reached)]
    unknown[reached] = is_reached[reached] = overdue[past] = ALREADY
    left[here] = 1
    for column, days in zip(ahead, counter.reach(left, owner), strict=True):
        days[here] = 0
        column[rows] = np.minimum(column.take(rows), days)


class _Counter:
    """One counter of every aircraft: what it shows, its use a day in thousandths, how far forecasts miss."""

    def __init__(self, place: int, aircraft: Sequence[Ahead]) -> None:
        measure = COUNTERS[place]
        self.shown: Ints = np.array([one.shown[place] for one in aircraft], np.int32)
        self.per_day: Floats = np.array([one.rate.used.get(measure, 0) for one in aircraft], np.float64)
        self.planned = {
            index: _Plan(stretches(one.plan, measure, one.rate, one.today))
            for index, one in enumerate(aircraft)
            if one.plan is not None
        }
        spreads = [one.errors.spreads(measure, one.rate.regularity) for one in aircraft]
        tables: dict[tuple[ErrorBand, ...], int] = {}
        places = [tables.setdefault(tuple(one.bands), len(tables)) for one in spreads]
        self.table: Indices = np.array(places, np.intp) * (LONGEST + 1)
        self.low, self.high = np.concatenate([_factors(bands) for bands in tables], axis=1)

    def reach(self, left: Ints, owner: Indices) -> tuple[Ints, Ints, Ints]:
        """`forecast.reach` for many: in how many days each is used up, and the ends of the interval; else BEYOND."""
        used: Floats = np.multiply(left, 1000.0, dtype=np.float64)
        per_day = self.per_day.take(owner)
        days = self._days(used, per_day, owner)
        place = self.table.take(owner)
        place += np.clip(days, 1, LONGEST)
        early = self._days(used * self.low.take(place), per_day, owner)
        late = self._days(used * self.high.take(place), per_day, owner)
        np.minimum(early, days, out=early)
        early[days == BEYOND] = BEYOND
        return days, early, np.maximum(late, days, out=late)

    def _days(self, used: Floats, per_day: Floats, owner: Indices) -> Ints:
        """Whole days until so many whole thousandths are used: exact, as both sides are far below 2**53."""
        whole: Floats = np.rint(used, out=used)
        quotient = whole / per_day
        # what is never used up comes out as infinite, or as no number at all
        np.fmin(quotient, BEYOND, out=quotient)
        days: Ints = quotient.astype(np.int32)
        for index, plan in self.planned.items():
            rows = np.flatnonzero(owner == index)
            days[rows] = plan.days(whole[rows])
        return days


@lru_cache(maxsize=256)
def _factors(bands: tuple[ErrorBand, ...]) -> Floats:
    """How early and how late forecasts of 0 to LONGEST days may be, (2, LONGEST + 1); not in sight: infinite."""
    spreads = [Spreads(bands).at(max(days, 1)) for days in range(LONGEST + 1)]
    return np.array(
        [[one.low for one in spreads], [np.inf if one.high is None else one.high for one in spreads]]
    )


class _Plan:
    """The days of one aircraft whose use a day changes with its flying plan."""

    def __init__(self, pieces: tuple[Stretch, ...]) -> None:
        self.starts: Floats = np.array([piece.start for piece in pieces], np.float64)
        self.per_day: Floats = np.array([piece.thousandths for piece in pieces], np.float64)
        self.used_before: Floats = np.append(0.0, np.cumsum(np.diff(self.starts) * self.per_day[:-1]))

    def days(self, used: Floats) -> Ints:
        """As `_Counter._days`: what is used up just as a stretch begins counts to its first day, though it rest."""
        after = self.used_before.searchsorted(used)
        piece = after - 1
        meets = after < self.starts.size
        meets[meets] = self.used_before[after[meets]] == used[meets]
        piece[meets] = after[meets]
        left = used - self.used_before.take(piece)
        days = np.where(meets, 0.0, left // self.per_day.take(piece))
        days += self.starts.take(piece)
        found: Ints = np.fmin(days, BEYOND).astype(np.int32)
        return found
