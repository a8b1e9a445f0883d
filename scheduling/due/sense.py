"""Whether limits and facts make sense: each fault as (field, value, what is wrong, remedy). Pure."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from fleet.common.wording import day as day_words
from scheduling.due.anchor import DAYS_OF_A_MONTH, interval_in_units
from scheduling.due.judged import judge_limit
from scheduling.due.terms import (
    CALENDAR,
    AmountUnit,
    Anchor,
    DueStatus,
    Facts,
    Limit,
    Mark,
    Measure,
    Since,
)
from scheduling.due.wording import MEASURE_NAMES, interval_words, point_words, size_words

Fault = tuple[str, object, str, str]

OF_A_COMPONENT = frozenset({Since.FITTED, Since.OVERHAUL})
COUNTED = frozenset(set(Measure) - {Measure.DATE, Measure.SEASON})


def faults_of_limit(
    limit: Limit, field: str, *, today: date | None = None, component: bool | None = None
) -> Iterator[Fault]:
    """What is wrong with one well-written limit; `component` is False when the requirement is on an
    aircraft."""
    yield from _first(limit, field)
    yield from _thresholds(limit, field)
    yield from _placing(limit, field)
    if today is not None and isinstance(limit.interval, date) and limit.interval < today:
        yield f"{field}.every", limit.interval, "lies in the past", f"write a date from {day_words(today)} on"
    if component is False:
        for name in ("since", "first_since"):
            if getattr(limit, name) in OF_A_COMPONENT:
                remedy = "put the requirement on a kind of component, or count since last done"
                yield f"{field}.{name}", getattr(limit, name).value, "needs a component", remedy


def _first(limit: Limit, field: str) -> Iterator[Fault]:
    if limit.first is not None and limit.since is not Since.LAST_DONE:
        remedy = "count the repeat since last_done, or leave the first limit out"
        yield f"{field}.first", interval_words(limit, limit.first), "has no repeat to come before", remedy
    if limit.first is not None and limit.measure not in COUNTED:
        yield f"{field}.first", limit.first, "has no meaning for a date", "leave it out"
    if limit.first is not None and limit.once:
        remedy = "write the first limit as the interval"
        yield f"{field}.first", interval_words(limit, limit.first), "has no repeat: it is done once", remedy
    if limit.first_since is Since.LAST_DONE:
        remedy = "use new, fitted, overhaul or event"
        yield f"{field}.first_since", limit.first_since.value, "cannot start a first time", remedy


def _thresholds(limit: Limit, field: str) -> Iterator[Fault]:
    size = interval_in_units(limit)
    if size is None:
        return
    shortest = min(size, _first_in_units(limit) or size)
    if limit.soon is not None and limit.soon >= shortest:
        remedy = f"warn less than {interval_words(limit)} before"
        yield f"{field}.soon", _own(limit, limit.soon), "starts before the interval does", remedy
    if limit.overrun is not None:
        allowed = limit.overrun.allowed
        reach = allowed.value * (DAYS_OF_A_MONTH if allowed.unit is AmountUnit.MONTHS else 1)
        if reach >= size:
            remedy = f"allow less than {interval_words(limit)}"
            yield f"{field}.overrun.allowed", _own(limit, reach), "is as long as the interval", remedy


def _first_in_units(limit: Limit) -> int | None:
    if limit.first is None:
        return None
    return limit.first * DAYS_OF_A_MONTH if limit.measure is Measure.MONTHS else limit.first


def _own(limit: Limit, number: int) -> str:
    return size_words(Measure.DAYS if limit.measure in CALENDAR else limit.measure, number)


def _placing(limit: Limit, field: str) -> Iterator[Fault]:
    if limit.anchor is Anchor.WINDOW and limit.window is None:
        remedy = 'write "window": {"percent": "10"}'
        yield f"{field}.window", "", "is missing for the window anchor", remedy
    if limit.window is not None and limit.anchor is not Anchor.WINDOW:
        yield f"{field}.anchor", limit.anchor.value, "does not use the window", "use the window anchor"
    if limit.early is not None and limit.measure is not Measure.SEASON:
        yield f"{field}.early", limit.early, "is for a season only", "leave it out"
    if limit.early is not None and limit.early > 364:
        yield f"{field}.early", limit.early, "is a year or more", "write less than 365 days"
    if limit.more_than and limit.measure not in COUNTED - {Measure.MONTHS}:
        yield f"{field}.more_than", "true", "has no meaning for this measure", "leave it out"
    if limit.measure in (Measure.DATE, Measure.SEASON) and limit.anchor is not Anchor.FROM_DONE:
        remedy = "leave the anchor out"
        yield f"{field}.anchor", limit.anchor.value, "has no meaning for a date of the calendar", remedy


def faults_of_done(limit: Limit, facts: Facts, done: Mark, field: str = "last_done") -> Iterator[Fault]:
    """What is wrong with a last-done or other mark: in the future, or above what the counters show today."""
    if limit.measure in CALENDAR and done.day is None:
        yield f"{field}.day", "", "is missing", "say on which day it was done"
    if done.day is not None and done.day > facts.today:
        remedy = f"write a day up to {day_words(facts.today)}"
        yield f"{field}.day", done.day, "lies in the future", remedy
    if limit.measure in CALENDAR:
        return
    name = limit.measure.value
    was, now = done.counters.get(name), facts.now.counters.get(name)
    if was is None:
        remedy = f"say what the {MEASURE_NAMES[limit.measure]} were"
        yield f"{field}.{name}", "", "is missing", remedy
    elif now is not None and was > now:
        remedy = f"write at most {point_words(limit.measure, now)}, or post the newer reading first"
        yield f"{field}.{name}", point_words(limit.measure, was), "is above what the meter shows", remedy


def faults_of_installation(limit: Limit, facts: Facts) -> Iterator[Fault]:
    """A component limit needs the mark it counts from: fitted needs an installation, overhaul an
    overhaul or new."""
    for since in (limit.since, limit.first_since if limit.first is not None else Since.LAST_DONE):
        has_mark = since in facts.marks or (since is Since.OVERHAUL and Since.NEW in facts.marks)
        if since in OF_A_COMPONENT and not has_mark:
            remedy = "record where and when the component was fitted"
            if since is Since.OVERHAUL:
                remedy = "record its last overhaul, or when it was new"
            yield f"marks.{since.value}", "", "is not recorded for the component", remedy


def fault_of_first_limit(limit: Limit, path: str, facts: Facts) -> Iterator[Fault]:
    """A first limit that is already past when the requirement starts: it would be overdue from its
    first day."""
    if facts.marks.get(Since.LAST_DONE) is not None:
        return
    due = judge_limit(limit, path, facts)
    if due.status is DueStatus.OVERDUE and due.due_at is not None:
        remedy = "record when it was last done, or set a first limit that lies ahead"
        yield f"limits[{path}].first", point_words(limit.measure, due.due_at), "lies in the past", remedy
