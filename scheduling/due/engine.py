"""The due engine: limits and facts in, what is due and why out. Pure; knows no clock and no database."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date
from fractions import Fraction

from scheduling.due.anchor import DAYS_OF_A_MONTH, allowed_to, distance
from scheduling.due.explain import explain, next_words, rule_words, words_of
from scheduling.due.judged import judge_limit
from scheduling.due.terms import (
    CALENDAR,
    Combine,
    DueResult,
    DueStatus,
    Facts,
    Group,
    LastDue,
    Limit,
    LimitDue,
    Limits,
    Mark,
    Measure,
    NextDue,
    NextResult,
    Point,
    Since,
)

SEVERITY = {
    DueStatus.COMPLETE: 0,
    DueStatus.OK: 1,
    DueStatus.DUE_SOON: 2,
    DueStatus.UNKNOWN: 3,
    DueStatus.DUE: 4,
    DueStatus.OVERDUE: 5,
}
ROOT = "1"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a limit or a group comes to: the limit that decides, and the days by the calendar alone."""

    governing: LimitDue
    due_day: date | None
    last_lawful_day: date | None


def paths_of(limits: Limits) -> Iterator[tuple[str, Limit]]:
    """Every limit with its path: one limit is "1"; members of a group "1", "2"; inside the second
    "2.1", "2.2"."""
    yield from _paths(limits, "")


def _paths(limits: Limits, prefix: str) -> Iterator[tuple[str, Limit]]:
    if isinstance(limits, Limit):
        yield prefix or ROOT, limits
        return
    for number, member in enumerate(limits.members, start=1):
        yield from _paths(member, f"{prefix}.{number}" if prefix else str(number))


def due_of(limits: Limits, facts: Facts) -> DueResult:
    """How a requirement stands, which limit decides and why.

    Limits of 1350 h (now 1312:24), 31 March 2026 (today 2 March) and landing 2400 (now 2399), whichever
    first: due soon, governed by the landings. A missing fact gives `unknown`, never a guess.
    """
    result = bare_due_of(limits, facts)
    worded = replace(
        result,
        rule=rule_words(limits),
        limits=tuple(replace(due, words=words_of(due)) for due in result.limits),
        if_done_now=_if_done_now(limits, facts, result),
    )
    return replace(worded, explanation=explain(worded))


def bare_due_of(limits: Limits, facts: Facts) -> DueResult:
    """The same verdict as `due_of` without its words, for reckoning whole fleets."""
    dues = tuple(judge_limit(limit, path, facts) for path, limit in paths_of(limits))
    verdict = _verdict(limits, iter(dues), facts)
    return DueResult(
        status=verdict.governing.status,
        governing=verdict.governing.path,
        limits=dues,
        due_day=verdict.due_day,
        last_lawful_day=verdict.last_lawful_day,
        rule="",
    )


def _verdict(limits: Limits, dues: Iterator[LimitDue], facts: Facts) -> Verdict:
    if isinstance(limits, Limit):
        due = next(dues)
        return Verdict(due, _day(due.due_at), _day(due.allowed_to))
    verdicts = [_verdict(member, dues, facts) for member in limits.members]
    alive = [one for one in verdicts if one.governing.status is not DueStatus.COMPLETE] or verdicts
    governing = _deciding(limits.combine, alive, facts)
    return Verdict(
        governing.governing,
        _joint_day(limits.combine, [one.due_day for one in alive]),
        _joint_day(limits.combine, [one.last_lawful_day for one in alive]),
    )


def _day(point: Point | None) -> date | None:
    return point if isinstance(point, date) else None


def _joint_day(combine: Combine, days: Iterable[date | None]) -> date | None:
    listed = list(days)
    known = [day for day in listed if day is not None]
    if combine is Combine.FIRST:
        return min(known, default=None)
    return max(known) if known and len(known) == len(listed) else None


def _deciding(combine: Combine, verdicts: list[Verdict], facts: Facts) -> Verdict:
    severities = [SEVERITY[one.governing.status] for one in verdicts]
    wanted = max(severities) if combine is Combine.FIRST else min(severities)
    equals = [one for one, severity in zip(verdicts, severities, strict=True) if severity == wanted]
    nearness = _nearness([one.governing for one in equals], facts)
    pick = min if combine is Combine.FIRST else max
    return equals[pick(range(len(equals)), key=nearness.__getitem__)]


def _nearness(dues: list[LimitDue], facts: Facts) -> list[Fraction]:
    """Days to go where every rate of use is known, otherwise the share of the interval that is left."""
    days = [_days_left(due, facts) for due in dues]
    known = [one for one in days if one is not None]
    return known if len(known) == len(days) else [_share_left(due) for due in dues]


def _days_left(due: LimitDue, facts: Facts) -> Fraction | None:
    if due.remaining is None:
        return None
    if due.limit.measure in CALENDAR:
        return Fraction(due.remaining)
    rate = facts.use_per_day.get(due.limit.measure.value, 0)
    return Fraction(due.remaining) / rate if rate > 0 else None


def _share_left(due: LimitDue) -> Fraction:
    if due.remaining is None:
        return Fraction(0)
    size = due.amount or 365
    return Fraction(due.remaining, size * DAYS_OF_A_MONTH if due.limit.measure is Measure.MONTHS else size)


def next_after(limits: Limits, facts: Facts, done: Mark, *, en_route: bool = False) -> NextResult:
    """Where every limit goes when the work is done at `done`, and whether doing it then broke one.

    100 h due at 1300:00, done en route at 1304:30, counted from due (14 CFR 91.409(b)): next 1400:00, lawful.
    A group of whichever first is broken by any of its limits, of whichever last only by all.
    """
    before = bare_due_of(limits, facts)
    after_facts = facts_after(facts, before, done)
    after = bare_due_of(limits, after_facts)
    steps = tuple(
        _next_due(old, new, done, en_route=en_route)
        for old, new in zip(before.limits, after.limits, strict=True)
    )
    return NextResult(steps, _is_broken(limits, iter(steps)), after_facts)


def facts_after(facts: Facts, before: DueResult, done: Mark) -> Facts:
    """The facts once the work is done: the new last-done mark, the dues it answered, the variations it
    spent."""
    marks = dict(facts.marks)
    marks[Since.LAST_DONE] = done
    last_due: dict[str, LastDue] = before.as_last_due()
    return replace(facts, marks=marks, last_due=last_due, variations=())


def _next_due(old: LimitDue, new: LimitDue, done: Mark, *, en_route: bool) -> NextDue:
    limit = old.limit
    done_at: Point | None = done.day if limit.measure in CALENDAR else done.counters.get(limit.measure.value)
    late: int | None = None
    is_violation = False
    if old.due_at is not None and done_at is not None:
        late = distance(old.due_at, done_at)
        lawful = allowed_to(limit, old.due_at, old.variation, en_route=en_route)
        is_violation = distance(lawful, done_at) > 0
    step = NextDue(old.path, limit, old.due_at, done_at, new.due_at, late, is_violation, "")
    return replace(step, words=next_words(step, new))


def _is_broken(limits: Limits, steps: Iterator[NextDue]) -> bool:
    if isinstance(limits, Limit):
        return next(steps).is_violation
    broken = [_is_broken(member, steps) for member in limits.members]
    return any(broken) if limits.combine is Combine.FIRST else all(broken)


def _if_done_now(limits: Limits, facts: Facts, result: DueResult) -> tuple[NextDue, ...]:
    if result.status is DueStatus.COMPLETE:
        return ()
    done = Mark(facts.today, facts.now.counters)
    return next_after(limits, facts, done).limits


def first_of(*limits: Limits) -> Group:
    """The limits, whichever comes first: `first_of(hours, months)`."""
    return Group(Combine.FIRST, limits)


def last_of(*limits: Limits) -> Group:
    """The limits, whichever comes last: `last_of(hours, months)`."""
    return Group(Combine.LAST, limits)
