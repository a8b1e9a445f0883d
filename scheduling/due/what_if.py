"""What if: the facts changed on paper, the dues reckoned again, nothing saved. Pure.

Rates are whole units a day (minutes for hours), so that every answer is exact.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from fleet.common.wording import day as day_words
from fleet.quantities import refused
from scheduling.due.anchor import distance
from scheduling.due.calendar import add_days
from scheduling.due.engine import bare_due_of, due_of, next_after
from scheduling.due.terms import (
    CALENDAR,
    Combine,
    DueResult,
    DueStatus,
    Facts,
    Limit,
    LimitDue,
    Limits,
    Mark,
    NextDue,
    NextResult,
)

PerDay = Mapping[str, int]
FURTHEST_DAYS = 36_525


@dataclass(frozen=True, slots=True)
class WhatIf:
    """Before and after: the two verdicts, the day each falls due at the rate assumed, what became of
    each limit.

    A day is None where the use assumed never reaches the limit or a fact is missing.
    """

    before: DueResult
    after: DueResult
    day_before: date | None
    day_after: date | None
    steps: tuple[NextDue, ...]
    words: str


def flown(facts: Facts, per_day: PerDay, days: int) -> Facts:
    """The facts so many days later: 6 h a day for 10 days adds 3600 minutes. Raises RefusedInput below
    zero."""
    _check_rate(per_day)
    if not 0 <= days <= FURTHEST_DAYS:
        raise refused("not_ahead", "days", days, "is not a number of days ahead", "write 0 or more days")
    counters = dict(facts.now.counters)
    for name, rate in per_day.items():
        if name in counters:
            counters[name] += rate * days
    today = add_days(facts.today, days)
    return replace(facts, today=today, now=Mark(today, counters, facts.now.record))


def _check_rate(per_day: PerDay) -> None:
    for name, rate in per_day.items():
        if rate < 0:
            raise refused(
                "rate_below_zero", f"per_day.{name}", rate, "is below zero", "write 0 or more a day"
            )


def day_reached(limits: Limits, facts: Facts, per_day: PerDay) -> date | None:
    """The last day on which the requirement is still within its limits at this use, or None when never
    reached.

    37:36 h left at 6:00 h a day seen on 2 March lasts through 8 March. Zero use gives no day.
    """
    _check_rate(per_day)
    result = bare_due_of(limits, facts)
    if result.status in (DueStatus.COMPLETE, DueStatus.UNKNOWN):
        return None
    return _reached(limits, iter(result.limits), facts.today, per_day).day


@dataclass(frozen=True, slots=True)
class Reached:
    """The day a limit or group is reached; a complete one takes no part in its group."""

    day: date | None
    is_complete: bool = False


def _reached(limits: Limits, dues: Iterator[LimitDue], today: date, per_day: PerDay) -> Reached:
    if isinstance(limits, Limit):
        due = next(dues)
        return Reached(_limit_reached(due, today, per_day), due.status is DueStatus.COMPLETE)
    members = [_reached(member, dues, today, per_day) for member in limits.members]
    alive = [member for member in members if not member.is_complete]
    known = [member.day for member in alive if member.day is not None]
    if limits.combine is Combine.FIRST:
        return Reached(min(known, default=None), not alive)
    return Reached(max(known) if known and len(known) == len(alive) else None, not alive)


def _limit_reached(due: LimitDue, today: date, per_day: PerDay) -> date | None:
    if due.remaining is None:
        return None
    if due.limit.measure in CALENDAR:
        return due.due_at if isinstance(due.due_at, date) else None
    rate = per_day.get(due.limit.measure.value, 0)
    if due.remaining < 0:
        return today
    if rate == 0 or due.remaining // rate > FURTHEST_DAYS:
        return None
    return add_days(today, due.remaining // rate)


def if_flies(limits: Limits, facts: Facts, usual: PerDay, instead: PerDay) -> WhatIf:
    """The day it falls due when the aircraft flies otherwise than usual; the state of today does not
    change."""
    before = due_of(limits, facts)
    day_before, day_after = day_reached(limits, facts, usual), day_reached(limits, facts, instead)
    words = _shift_words(day_before, day_after)
    return WhatIf(before, before, day_before, day_after, (), words)


def if_done(limits: Limits, facts: Facts, done: Mark, per_day: PerDay, *, en_route: bool = False) -> WhatIf:
    """The dues once it was done at a mark not later than today, with its own counters."""
    if done.day is None or done.day > facts.today:
        remedy = f"write a day up to {day_words(facts.today)}"
        raise refused("not_past", "done", done.day, "is not a day up to today", remedy)
    return _after(limits, facts, next_after(limits, facts, done, en_route=en_route), per_day)


def if_done_on(limits: Limits, facts: Facts, day: date, per_day: PerDay) -> WhatIf:
    """The dues once it is done on a day to come, with the counters the use assumed will have reached by then.

    Bringing a 200 h item forward shows in `steps` how much of each interval is given away (`late_by`
    below zero).
    """
    then = flown(facts, per_day, (day - facts.today).days)
    return _after(limits, facts, next_after(limits, then, then.now), per_day)


def if_limits(limits: Limits, instead: Limits, facts: Facts, per_day: PerDay) -> WhatIf:
    """The same facts under other limits: what a change of the programme would do."""
    before, after = due_of(limits, facts), due_of(instead, replace(facts, last_due={}, variations=()))
    day_before = day_reached(limits, facts, per_day)
    day_after = day_reached(instead, replace(facts, last_due={}, variations=()), per_day)
    return WhatIf(before, after, day_before, day_after, (), _shift_words(day_before, day_after))


def _after(limits: Limits, facts: Facts, result: NextResult, per_day: PerDay) -> WhatIf:
    day_before = day_reached(limits, facts, per_day)
    day_after = day_reached(limits, result.facts, per_day)
    words = _shift_words(day_before, day_after)
    if result.is_violation:
        words = f"{words} Doing it then breaks a limit."
    after = due_of(limits, result.facts)
    return WhatIf(due_of(limits, facts), after, day_before, day_after, result.limits, words)


def _shift_words(before: date | None, after: date | None) -> str:
    if after is None:
        return "At this use no day can be given."
    if before is None:
        return f"It would fall due on {day_words(after)}."
    days = distance(before, after)
    if days == 0:
        return f"It would still fall due on {day_words(after)}."
    which = "later" if days > 0 else "earlier"
    return (
        f"It would fall due on {day_words(after)} instead of {day_words(before)}, {abs(days)} days {which}."
    )
