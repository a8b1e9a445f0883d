"""Plain arithmetic for one due item at a time: what the columns of `scheduling.due.arrays` must agree with.

Written without looking at the columns: dates, None, whole numbers and fractions, one row after the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

FARTHEST = 7305
ALWAYS = 0


@dataclass(frozen=True, slots=True)
class PlainLimit:
    """One counter's limit: where it falls due, from where on it is soon, and the last lawful point."""

    due: int
    soon_at: int
    lawful_at: int


@dataclass(frozen=True, slots=True)
class Interval:
    """The factors by which a forecast of so many days may be early or late; late None: not in sight."""

    low: float
    high: float | None


@dataclass(frozen=True, slots=True)
class PlainItem:
    """An item as kept: due by the calendar, its counters' limits, and from which days on it stands worse."""

    due_day: date | None
    limits: Sequence[PlainLimit | None]
    soon: int | None
    unknown: int | None
    reached: int | None
    overdue: int | None


def days_until(used_up: int, per_day: int) -> int | None:
    """Whole days until so many thousandths are used, None where that is more than twenty years away."""
    if not per_day:
        return None
    days = Fraction(used_up, per_day).__floor__()
    return days if days <= FARTHEST else None


def answer(
    item: PlainItem, shown: Sequence[int], per_day: Sequence[int], intervals: Sequence[Sequence[Interval]], today: date
) -> tuple[int | None, int | None, int | None, int | None, date | None, date | None, date | None, int]:  # fmt: skip
    """The eight columns; `intervals` by counter and days ahead, the last one holding for all that is farther."""
    soon, unknown, reached, overdue = item.soon, item.unknown, item.reached, item.overdue
    likely, earliest, latest = ([] if item.due_day is None else [item.due_day] for _ in range(3))
    for place, limit in enumerate(item.limits):
        if limit is None:
            continue
        if shown[place] >= limit.soon_at:
            soon = ALWAYS
        left = limit.due - shown[place]
        if left <= 0:
            unknown = reached = ALWAYS
            overdue = ALWAYS if shown[place] > limit.lawful_at else overdue
            likely, earliest, latest = [*likely, today], [*earliest, today], [*latest, today]
            continue
        days = days_until(left * 1000, per_day[place])
        if days is None:
            continue
        factors = intervals[place][min(max(days, 1), len(intervals[place]) - 1)]
        early = days_until(round(left * 1000 * factors.low), per_day[place])
        late = None if factors.high is None else days_until(round(left * 1000 * factors.high), per_day[place])
        likely = [*likely, today + timedelta(days)]
        earliest = [*earliest, today + timedelta(days if early is None else min(early, days))]
        if late is not None:
            latest = [*latest, today + timedelta(max(late, days))]
    first = min(likely, default=None)
    order = 0 if reached == ALWAYS else 1 if unknown == ALWAYS else first.toordinal() if first else 9_999_998
    return (
        soon,
        unknown,
        reached,
        overdue,
        first,
        min(earliest, default=None),
        min(latest, default=None),
        order,
    )
