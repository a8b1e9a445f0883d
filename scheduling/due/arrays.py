"""How a whole fleet's requirements stand, reckoned on columns instead of objects. Pure, with numpy.

The same answers as `engine.bare_due_of` and `forecast.project` give row by row, for requirements with at most one
limit each by calendar, hours, landings and cycles, whichever first or last; deeper nesting stays with the engine.
Where two limits are equally near, the order of KINDS decides, so members are best written in that order.
Whole numbers are 32-bit; days are those of `date.toordinal`; hours are minutes.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from scheduling.due.forecast import FARTHEST_DAYS
from scheduling.due.terms import DueStatus, Measure, MonthRule

Ints = NDArray[np.int32]
Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

KINDS: tuple[Measure | None, ...] = (None, Measure.HOURS, Measure.LANDINGS, Measure.CYCLES)
"""The rows of `DueColumns.due`: the calendar first, then the counters."""

STATES = (
    DueStatus.COMPLETE,
    DueStatus.OK,
    DueStatus.DUE_SOON,
    DueStatus.UNKNOWN,
    DueStatus.DUE,
    DueStatus.OVERDUE,
)
"""What a state code means; a higher code is more urgent."""

ABSENT = np.int32(-(2**31))
"""In a due column: the requirement has no such limit."""

MISSING = np.int32(-(2**31) + 1)
"""In a due column: there is such a limit, but a fact it needs is missing."""

NO_DAY = np.int32(2**28)
"""In the projected days: no day can be given."""

NONE_GOVERNS = np.uint8(255)
CHUNK = 16_384
ORDINAL_OF_1970 = 719_163


@dataclass(frozen=True, slots=True)
class Rules:
    """What rows share, one column a rule: warning, room past the due point and size of the interval by KINDS.

    `soon`, `slack`, `size` are (4, rules), not negative, in days, minutes and counts; `size` only ranks limits where
    a rate is unknown, and is in days for calendar limits. `is_last`: whichever comes last.
    """

    soon: Ints
    slack: Ints
    size: Ints
    is_last: NDArray[np.bool_]

    def __post_init__(self) -> None:
        """Refuse what would silently turn states over."""
        if min(self.soon.min(initial=0), self.slack.min(initial=0)) < 0 or self.size.min(initial=1) < 1:
            raise ValueError("warnings and slack may not be negative, sizes not below one")


@dataclass(frozen=True, slots=True)
class DueColumns:
    """One requirement on one aircraft a row: where it falls due by KINDS, (4, rows), and its aircraft and rule."""

    due: Ints
    aircraft: Ints
    rule: Ints


@dataclass(frozen=True, slots=True)
class Counters:
    """What each aircraft shows now and uses a day (in thousandths; 0: not known): hours, landings, cycles."""

    now: Ints
    per_day: Ints


@dataclass(frozen=True, slots=True)
class DueStates:
    """How each row stands: state code, governing kind, projected day, and the row numbers most urgent first."""

    state: Bytes
    governing: Bytes
    day: Ints
    order: Ints


@dataclass(slots=True)
class _Limits:
    """The limits of some rows side by side, each (4, rows): state codes, days to go, projected days, remaining."""

    codes: Bytes
    near: Floats
    day: Ints
    left: Ints


def states_of(columns: DueColumns, rules: Rules, counters: Counters, today: date) -> DueStates:
    """State, governing limit, projected day and order of every row.

    Due at 1350 h, on 31 March and at landing 2400, seen on 2 March at 1312:24 and 2399 landings: due soon by the
    landings. Most urgent state first, then earliest day, then the order of the rows.
    """
    rows = columns.aircraft.shape[0]
    state = np.empty(rows, np.uint8)
    governing = np.empty(rows, np.uint8)
    day = np.empty(rows, np.int32)
    for part in _parts(rows):
        piece = DueColumns(columns.due[:, part], columns.aircraft[part], columns.rule[part])
        state[part], governing[part], day[part] = _judge(piece, rules, counters, today.toordinal())
    return DueStates(state, governing, day, urgency_order(state, day))


def _parts(rows: int) -> Iterator[slice]:
    """Pieces small enough to stay in the processor's cache."""
    for start in range(0, rows, CHUNK):
        yield slice(start, min(rows, start + CHUNK))


def _judge(piece: DueColumns, rules: Rules, counters: Counters, today: int) -> tuple[Bytes, Bytes, Ints]:
    limits = _limits(piece, rules, counters, today)
    state, governing, day = _first(limits)
    last = np.flatnonzero(rules.is_last[piece.rule])
    if last.size:
        some = _Limits(limits.codes[:, last], limits.near[:, last], limits.day[:, last], limits.left[:, last])
        state[last], governing[last], day[last] = _last(some)
    ranked = _rank_by_share(limits, state, piece.rule, rules)
    if ranked is not None:
        rows, winners = ranked
        governing[rows] = winners
    governing[state == 0] = NONE_GOVERNS
    return state, governing, day


def _limits(piece: DueColumns, rules: Rules, counters: Counters, today: int) -> _Limits:
    shape = piece.due.shape
    limits = _Limits(
        np.empty(shape, np.uint8),
        np.empty(shape, np.float64),
        np.empty(shape, np.int32),
        np.empty(shape, np.int32),
    )
    for kind in range(len(KINDS)):
        due = piece.due[kind]
        if kind:
            left = due - counters.now[kind - 1].take(piece.aircraft)
            _project(limits, kind, left, counters.per_day[kind - 1].take(piece.aircraft), today)
        else:
            left = due - np.int32(today)
            limits.day[kind], limits.near[kind] = due, left
        code = limits.codes[kind]
        np.less_equal(left, rules.soon[kind].take(piece.rule), out=code.view(np.bool_))
        reached = left <= 0
        code += reached
        code += reached
        code += left < -rules.slack[kind].take(piece.rule)
        code += np.uint8(1)
        limits.left[kind] = left
        _blank(limits, kind, due)
    return limits


def _project(limits: _Limits, kind: int, left: Ints, per_day: Ints, today: int) -> None:
    """Days to go exactly as whole numbers would divide: both are far below 2**53, so the floor is the true one."""
    near = limits.near[kind]
    np.multiply(left, 1000.0, out=near)
    with np.errstate(divide="ignore", invalid="ignore"):
        near /= per_day
    unknown = np.flatnonzero(per_day <= 0)
    near[unknown] = np.inf
    whole = np.minimum(near, float(FARTHEST_DAYS + 1))
    np.maximum(whole, 0.0, out=whole)
    day = limits.day[kind]
    np.add(whole, float(today), out=day, casting="unsafe")
    day[whole > FARTHEST_DAYS] = NO_DAY
    if unknown.size:
        day[unknown[left[unknown] <= 0]] = today


def _blank(limits: _Limits, kind: int, due: Ints) -> None:
    """Mark the limits that are not there, and those that lack a fact."""
    odd = np.flatnonzero(due <= MISSING)
    if not odd.size:
        return
    absent = due[odd] == ABSENT
    limits.codes[kind, odd] = np.where(absent, 0, STATES.index(DueStatus.UNKNOWN))
    limits.near[kind, odd] = np.inf
    limits.day[kind, odd] = NO_DAY
    limits.left[kind, odd] = 0


def _first(limits: _Limits) -> tuple[Bytes, Bytes, Ints]:
    """Whichever comes first: the most urgent state, the nearest limit that has it, the earliest day."""
    state = limits.codes.max(axis=0)
    governing = np.zeros(state.shape, np.uint8)
    best = np.where(limits.codes[0] == state, limits.near[0], np.inf)
    for kind in range(1, len(KINDS)):
        better = (limits.near[kind] < best) & (limits.codes[kind] == state)
        governing[better] = kind
        np.copyto(best, limits.near[kind], where=better)
    return state, governing, limits.day.min(axis=0)


def _last(limits: _Limits) -> tuple[Bytes, Bytes, Ints]:
    """Whichever comes last: the least urgent state, the farthest limit that has it, the latest day."""
    there = limits.codes > 0
    state = np.where(there, limits.codes, 255).min(axis=0)
    state[~there.any(axis=0)] = 0
    near = np.where(there & (limits.codes == state), limits.near, -np.inf)
    day = np.where(there, limits.day, np.iinfo(np.int32).min).max(axis=0)
    day[state == 0] = NO_DAY
    return state.astype(np.uint8), near.argmax(axis=0).astype(np.uint8), day.astype(np.int32)


def _rank_by_share(
    limits: _Limits, state: Bytes, rule: Ints, rules: Rules
) -> tuple[NDArray[np.intp], NDArray[np.intp]] | None:
    """Where one of the limits in question has no rate, the share of the interval that is left decides."""
    doubtful = np.zeros(state.shape, np.bool_)
    for kind in range(len(KINDS)):
        doubtful |= (limits.codes[kind] == state) & np.isposinf(limits.near[kind])
    rows = np.flatnonzero(doubtful & (state > 0))
    if not rows.size:
        return None
    equal = limits.codes[:, rows] == state[rows]
    share = limits.left[:, rows] / rules.size[:, rule[rows]]
    is_last = rules.is_last[rule[rows]]
    share = np.where(is_last, -share, share)
    return rows, np.where(equal, share, np.inf).argmin(axis=0)


def urgency_order(state: Bytes, day: Ints) -> Ints:
    """Row numbers, most urgent state first, then earliest day, rows that tie in their own order.

    States 1, 5, 1 with days 9, 7, 8 give 1, 2, 0. Two stable 16-bit passes, which numpy sorts by radix.
    """
    key = (np.uint32(len(STATES)) - state).astype(np.uint32)
    key <<= np.uint32(29)
    key |= day.view(np.uint32)
    low = key.astype(np.uint16)
    order = np.argsort(low, kind="stable")
    key >>= np.uint32(16)
    high = key.astype(np.uint16)[order]
    return order[np.argsort(high, kind="stable")].astype(np.int32)


@dataclass(frozen=True, slots=True)
class IntervalRules:
    """The intervals rows share: `amount` (4, rules) in days or months, minutes, counts; 0: no such limit.

    `by_month`: the calendar amount counts calendar months; `to_month_end`: they end with the month.
    """

    amount: Ints
    by_month: NDArray[np.bool_]
    to_month_end: NDArray[np.bool_]


def month_rules(rules: list[MonthRule | None]) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """`by_month` and `to_month_end` for rules that count months so, or days (None)."""
    by_month = np.array([rule is not None for rule in rules], np.bool_)
    return by_month, np.array([rule is MonthRule.END_OF_MONTH for rule in rules], np.bool_)


def due_from(base: Ints, months_from: Ints, rule: Ints, rules: IntervalRules) -> Ints:
    """Where each row falls due, (4, rows): the point counted from plus the interval, months by the calendar.

    Counted from 31 January 2025 by one month to the same day: 28 February 2025. `months_from` is the day whose
    number a same-day month keeps. A base of MISSING stays missing; an interval of 0 is absent.
    """
    due = np.empty(base.shape, np.int32)
    for part in _parts(rule.shape[0]):
        shared = rule[part]
        for kind in range(len(KINDS)):
            amount = rules.amount[kind].take(shared)
            known = base[kind, part]
            out = due[kind, part]
            np.add(known, amount, out=out)
            if not kind:
                by_month = np.flatnonzero(rules.by_month.take(shared) & (amount > 0) & (known != MISSING))
                to_end = rules.to_month_end.take(shared[by_month])
                out[by_month] = add_months(
                    known[by_month],
                    amount[by_month],
                    np.where(to_end, 31, _day_number(months_from[part][by_month])),
                )
            out[known == MISSING] = MISSING
            out[amount == 0] = ABSENT
    return due


def add_months(day: Ints, months: Ints, wanted: Ints) -> Ints:
    """The day number `wanted`, or the last one the month has, so many months on: all columns are as long as `day`."""
    if not day.size:
        return day
    table = _calendar(_year(day.min()), _year(day.max()) + 2 + int(months.max()) // 12)
    month = table.month_of.take(day - table.first_day) + months
    start: Ints = table.start_of.take(month)
    after: Ints = table.start_of.take(month + 1)
    reached: Ints = np.minimum(start + wanted, after) - np.int32(1)
    return reached


def _day_number(day: Ints) -> Ints:
    if not day.size:
        return day
    table = _calendar(_year(day.min()), _year(day.max()) + 2)
    number: Ints = day - table.start_of.take(table.month_of.take(day - table.first_day)) + np.int32(1)
    return number


def _year(ordinal: int) -> int:
    return date.fromordinal(int(ordinal)).year


@dataclass(frozen=True, slots=True)
class _Calendar:
    """Months counted from the first year on: the month of each day, and the day each month starts with."""

    first_day: int
    month_of: Ints
    start_of: Ints


@lru_cache(maxsize=8)
def _calendar(first_year: int, end_year: int) -> _Calendar:
    """The months from January of the first year up to, not including, the end year's, one start more."""
    months = np.arange(f"{first_year:04d}-01", f"{end_year:04d}-02", dtype="datetime64[M]")
    start = (months.astype("datetime64[D]").astype(np.int64) + ORDINAL_OF_1970).astype(np.int32)
    month_of = np.repeat(np.arange(len(start) - 1, dtype=np.int32), np.diff(start))
    return _Calendar(int(start[0]), month_of, start)
