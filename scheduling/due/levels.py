"""From which day on a requirement stands how, with its counters as they are: the state of any day at once. Pure.

The state worsens with the days alone; kept like this, the turn of a day changes nothing that is kept.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date

from scheduling.due.judged import warning_of
from scheduling.due.terms import CALENDAR, Combine, DueStatus, Facts, Limit, LimitDue, Limits

ALREADY = 0
"""Stands for every day: it is so now, whatever the day."""

Day = int | None

FIRST_OF_ALL = 0
NOT_KNOWN = 1
NO_DAY = 9_999_998
NOTHING_LEFT = 9_999_999
"""What sorts the due list where no day does: reached by a counter, not known, no day in sight, complete."""


@dataclass(frozen=True, slots=True)
class Levels:
    """The day (as `date.toordinal`) from which it is due soon, not known or worse, due, and overdue.

    0: it is so already, by its counters; None: the calendar alone never makes it so.
    """

    soon: Day = None
    unknown: Day = None
    reached: Day = None
    overdue: Day = None
    is_complete: bool = False

    def state_on(self, day: int) -> DueStatus:
        """The state on a day: soon from day 100, due from 130, overdue from 131; on day 110 it is due soon."""
        if self.is_complete:
            return DueStatus.COMPLETE
        return state_on(day, self.soon, self.unknown, self.reached, self.overdue)


def order_of(reached: Day, unknown: Day, projected: Day) -> int:
    """Where an item stands in the due list: by its projected day, what has come by its counters before all."""
    if reached == ALREADY:
        return FIRST_OF_ALL
    if unknown == ALREADY:
        return NOT_KNOWN
    return NO_DAY if projected is None else projected


def state_on(day: int, soon: Day, unknown: Day, reached: Day, overdue: Day) -> DueStatus:
    """The same from bare levels, for whole lists; later levels never come before earlier ones."""
    if soon is None or soon > day:
        return DueStatus.OK
    if unknown is None or unknown > day:
        return DueStatus.DUE_SOON
    if reached is None or reached > day:
        return DueStatus.UNKNOWN
    return DueStatus.DUE if overdue is None or overdue > day else DueStatus.OVERDUE


COMPLETE = Levels(is_complete=True)
OF_COUNTER = {
    DueStatus.OK: Levels(),
    DueStatus.DUE_SOON: Levels(ALREADY),
    DueStatus.UNKNOWN: Levels(ALREADY, ALREADY),
    DueStatus.DUE: Levels(ALREADY, ALREADY, ALREADY),
    DueStatus.OVERDUE: Levels(ALREADY, ALREADY, ALREADY, ALREADY),
    DueStatus.COMPLETE: COMPLETE,
}


def levels_of(limits: Limits, dues: Iterable[LimitDue], facts: Facts) -> Levels:
    """The levels of a requirement from its judged limits, in the order of their paths.

    Due by the calendar on 31 March with a warning of 30 days: soon from 1 March, due from 31 March, overdue
    from 1 April.
    """
    return _levels(limits, iter(dues), facts)


def _levels(limits: Limits, dues: Iterator[LimitDue], facts: Facts) -> Levels:
    if isinstance(limits, Limit):
        return _of_limit(next(dues), facts)
    members = [_levels(member, dues, facts) for member in limits.members]
    alive = [one for one in members if not one.is_complete]
    if not alive:
        return COMPLETE
    join = _first if limits.combine is Combine.FIRST else _last
    return Levels(
        join([one.soon for one in alive]),
        join([one.unknown for one in alive]),
        join([one.reached for one in alive]),
        join([one.overdue for one in alive]),
    )


def _of_limit(due: LimitDue, facts: Facts) -> Levels:
    is_day = due.limit.measure in CALENDAR and isinstance(due.due_at, date)
    if not is_day or not isinstance(due.due_at, date) or due.status is DueStatus.COMPLETE:
        return OF_COUNTER[due.status]
    reached = due.due_at.toordinal()
    lawful = due.allowed_to.toordinal() if isinstance(due.allowed_to, date) else reached
    return Levels(reached - warning_of(due, facts), reached, reached, lawful + 1)


def _first(days: list[Day]) -> Day:
    return min((day for day in days if day is not None), default=None)


def _last(days: list[Day]) -> Day:
    known = [day for day in days if day is not None]
    return max(known) if len(known) == len(days) else None
