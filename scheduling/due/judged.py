"""One limit against the facts: where it runs from, where it falls due, how it stands. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from scheduling.due.anchor import (
    DAYS_OF_A_MONTH,
    allowed_to,
    counted_from,
    distance,
    variation_granted,
)
from scheduling.due.calendar import (
    HALF_A_YEAR,
    add_days,
    add_months,
    first_season_date,
    months_between,
    next_season_date,
    season_day,
)
from scheduling.due.terms import (
    CALENDAR,
    DueStatus,
    Facts,
    Limit,
    LimitDue,
    Mark,
    Measure,
    MonthDay,
    MonthRule,
    Point,
    SeasonEdge,
    Since,
)


@dataclass(frozen=True, slots=True)
class Start:
    """The mark a limit runs from, and whether it is the first time."""

    mark: Mark
    since: Since
    is_first_time: bool = False


def is_before(left: Mark, right: Mark) -> bool:
    """Whether one mark lies before another: by day, on the same day by the counters both carry."""
    if left.day is not None and right.day is not None and left.day != right.day:
        return left.day < right.day
    shared = left.counters.keys() & right.counters.keys()
    return any(left.counters[name] < right.counters[name] for name in shared)


def start_of(limit: Limit, facts: Facts) -> Start | None:
    """The mark this limit runs from, or None when it was never recorded.

    A part never overhauled counts its time since new as time since overhaul. A fitting, overhaul or
    event later than the last time done starts the first-time threshold again.
    """
    if limit.since is not Since.LAST_DONE:
        return _mark(limit.since, facts)
    last = facts.marks.get(Since.LAST_DONE)
    first = _mark(limit.first_since, facts)
    if last is None:
        return None if first is None else replace(first, is_first_time=True)
    if first is not None and limit.first_since is not Since.NEW and is_before(last, first.mark):
        return replace(first, is_first_time=True)
    return Start(last, Since.LAST_DONE)


def _mark(since: Since, facts: Facts) -> Start | None:
    mark = facts.marks.get(since)
    if mark is not None:
        return Start(mark, since)
    new = facts.marks.get(Since.NEW)
    return Start(new, Since.NEW) if since is Since.OVERHAUL and new is not None else None


def is_complete(limit: Limit, facts: Facts) -> bool:
    """Whether nothing is left to do: a fixed date done, a one-time item done, an event answered or
    never seen."""
    last = facts.marks.get(Since.LAST_DONE)
    if limit.since is Since.EVENT:
        event = facts.marks.get(Since.EVENT)
        return event is None or (last is not None and not is_before(last, event))
    if last is None or not (limit.once or limit.measure is Measure.DATE):
        return False
    start = facts.marks.get(limit.first_since if limit.since is Since.LAST_DONE else limit.since)
    return start is None or not is_before(last, start)


def judge_limit(limit: Limit, path: str, facts: Facts) -> LimitDue:
    """How one limit stands: 200 h since 1150:00 seen at 1312:24 is due at 1350:00 with 37:36 left, ok."""
    if is_complete(limit, facts):
        return LimitDue(path, limit, DueStatus.COMPLETE, origin=facts.marks.get(Since.LAST_DONE))
    placed = _placed(limit, path, facts)
    if placed.due_at is None or placed.now is None:
        return placed
    variation = variation_granted(path, placed.due_at, facts.variations)
    lawful = allowed_to(limit, placed.due_at, variation, en_route=False)
    remaining = distance(placed.now, placed.due_at)
    status = status_for(remaining, distance(placed.now, lawful), warning_of(placed, facts))
    return replace(placed, status=status, remaining=remaining, allowed_to=lawful, variation=variation)


def status_for(remaining: int, lawful_left: int, warning: int) -> DueStatus:
    """The state from what is left: none left is due, past the last lawful point is overdue."""
    if lawful_left < 0:
        return DueStatus.OVERDUE
    if remaining <= 0:
        return DueStatus.DUE
    return DueStatus.DUE_SOON if remaining <= warning else DueStatus.OK


def warning_of(placed: LimitDue, facts: Facts) -> int:
    """How much before a placed limit it counts as due soon: its own `soon`, or the usual, at most a fifth of it."""
    limit = placed.limit
    if limit.soon is not None:
        return limit.soon
    usual = facts.warn.get(limit.measure, 0)
    size = placed.amount
    if size is None:
        return usual
    return min(usual, max(1, (size * DAYS_OF_A_MONTH if limit.measure is Measure.MONTHS else size) // 5))


def _placed(limit: Limit, path: str, facts: Facts) -> LimitDue:
    now = facts.today if limit.measure in CALENDAR else facts.now.counters.get(limit.measure.value)
    blank = LimitDue(path, limit, DueStatus.UNKNOWN, now=now)
    if isinstance(limit.interval, date):
        return replace(blank, due_at=limit.interval)
    start = start_of(limit, facts)
    if start is None:
        return blank
    known = replace(blank, origin=start.mark, origin_since=start.since, is_first_time=start.is_first_time)
    done = _point(limit, start.mark)
    if done is None:
        return known
    if limit.measure is Measure.SEASON:
        return _season(known, start, facts)
    return _counted(known, done, facts)


def _point(limit: Limit, mark: Mark) -> Point | None:
    return mark.day if limit.measure in CALENDAR else mark.counters.get(limit.measure.value)


def _counted(known: LimitDue, done: Point, facts: Facts) -> LimitDue:
    limit = known.limit
    amount = limit.first if known.is_first_time and limit.first is not None else limit.interval
    assert isinstance(amount, int)  # noqa: S101 - dates and season days are placed before this
    last_due = facts.last_due.get(known.path) if known.origin_since is Since.LAST_DONE else None
    base, months_from = counted_from(limit, last_due, done)
    if isinstance(base, date):
        anchor = months_from or base
        due: Point = _calendar_due(limit, base, anchor, amount)
        return replace(known, due_at=due, counted_from=base, amount=amount, months_from=anchor)
    due = base + amount + int(limit.more_than)
    return replace(known, due_at=due, counted_from=base, amount=amount)


def _calendar_due(limit: Limit, base: date, anchor: date, amount: int) -> date:
    if limit.measure is Measure.DAYS:
        return add_days(base, amount + int(limit.more_than))
    if limit.month_rule is MonthRule.SAME_DAY:
        return add_months(anchor, months_between(anchor, base) + amount, MonthRule.SAME_DAY)
    return add_months(base, amount, MonthRule.END_OF_MONTH)


def _season(known: LimitDue, start: Start, facts: Facts) -> LimitDue:
    assert isinstance(known.limit.interval, MonthDay | SeasonEdge)  # noqa: S101 - narrows the type
    wanted = season_day(known.limit.interval, facts.season)
    day = start.mark.day
    if wanted is None or day is None:
        return known
    if start.since is Since.LAST_DONE:
        early = HALF_A_YEAR if known.limit.early is None else known.limit.early
        due = next_season_date(wanted, day, early)
    else:
        due = first_season_date(wanted, day)
    return replace(known, due_at=due, counted_from=day, season_day=wanted)
