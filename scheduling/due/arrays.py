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
Indices = NDArray[np.intp]

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
CHUNK = 32_768

STATE_SHIFT = np.int32(25)
DAYS_MASK = np.int32(2**23 - 1)
HALF = np.int32(2**22)
NEVER = DAYS_MASK - HALF


def _state_key(state: DueStatus) -> np.int32:
    return np.int32((len(STATES) - 1 - STATES.index(state)) << int(STATE_SHIFT))


NO_LIMIT = _state_key(DueStatus.COMPLETE) + (DAYS_MASK << np.int32(2))
UNKNOWN_LIMIT = _state_key(DueStatus.UNKNOWN) + (DAYS_MASK << np.int32(2))
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
        piece = _Piece(
            columns.due[:, part], columns.aircraft[part].astype(np.intp), columns.rule[part].astype(np.intp)
        )
        state[part], governing[part], day[part] = _judge(piece, rules, counters, today.toordinal())
    return DueStates(state, governing, day, urgency_order(state, day))


@dataclass(frozen=True, slots=True)
class _Piece:
    """Some rows, their indices as wide as numpy wants them."""

    due: Ints
    aircraft: Indices
    rule: Indices


def _parts(rows: int) -> Iterator[slice]:
    """Pieces small enough to stay in the processor's cache."""
    for start in range(0, rows, CHUNK):
        yield slice(start, min(rows, start + CHUNK))


def _judge(piece: _Piece, rules: Rules, counters: Counters, today: int) -> tuple[Bytes, Bytes, Ints]:
    """Compare whole days first, then settle exactly the few rows where these cannot tell which limit governs."""
    keys = np.full(piece.due.shape, NO_LIMIT)
    unsure = np.zeros(piece.rule.shape, np.bool_)
    for kind in range(len(KINDS)):
        rows = np.flatnonzero(piece.due[kind] > MISSING)
        due: Ints = piece.due[kind].take(rows)
        left, ahead = due - np.int32(today), due - np.int32(today)
        if kind:
            owner = piece.aircraft.take(rows)
            per_day = counters.per_day[kind - 1].take(owner)
            left = due - counters.now[kind - 1].take(owner)
            ahead = _days_ahead(left, per_day)
            unsure[rows[per_day <= 0]] = True
        keys[kind, rows] = _keys(left, ahead, piece.rule.take(rows), rules, kind)
        missing = np.flatnonzero(piece.due[kind] == MISSING)
        keys[kind, missing] = UNKNOWN_LIMIT + np.int32(kind)
        unsure[missing] = True
    key, ahead = _first(keys, unsure)
    last = np.flatnonzero(rules.is_last.take(piece.rule))
    key[last], ahead[last] = _last(keys.take(last, axis=1))
    unsure[last] = True
    governing = (key & np.int32(3)).astype(np.uint8)
    rows = np.flatnonzero(unsure)
    some = _Piece(piece.due.take(rows, axis=1), piece.aircraft.take(rows), piece.rule.take(rows))
    rivals = (keys.take(rows, axis=1) >> STATE_SHIFT) == (key.take(rows) >> STATE_SHIFT)
    governing[rows] = _settle(some, rivals, rules, counters, today)
    state = np.uint8(len(STATES) - 1) - (key >> STATE_SHIFT).astype(np.uint8)
    governing[state == 0] = NONE_GOVERNS
    day = ahead + np.int32(today)
    day[ahead == NEVER] = NO_DAY
    return state, governing, day


def _keys(left: Ints, ahead: Ints, rule: Indices, rules: Rules, kind: int) -> Ints:
    """State, days ahead and kind of each limit in one number that is the smaller, the more urgent the limit is."""
    key: Ints = (ahead + HALF) << np.int32(2)
    key += _state_key(DueStatus.OK) + np.int32(kind)
    key -= np.left_shift(left <= rules.soon[kind].take(rule), STATE_SHIFT, dtype=np.int32)
    reached = np.flatnonzero(left <= 0)
    is_past = left[reached] < -rules.slack[kind].take(rule[reached])
    key[reached] += _state_key(DueStatus.DUE) - _state_key(DueStatus.DUE_SOON)
    key[reached] -= np.left_shift(is_past, STATE_SHIFT, dtype=np.int32)
    return key


def _days_ahead(left: Ints, per_day: Ints) -> Ints:
    """Whole days until each is used up, exact because both sides are far below 2**53; NEVER beyond the farthest."""
    with np.errstate(divide="ignore", invalid="ignore"):
        days = np.multiply(left, 1000.0)
        days /= per_day
    np.fmax(days, 0.0, out=days)
    np.fmin(days, float(FARTHEST_DAYS + 1), out=days)
    ahead = days.astype(np.int32)
    ahead[ahead > FARTHEST_DAYS] = NEVER
    return ahead


def _first(keys: Ints, unsure: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Whichever comes first: the smallest key, and the fewest days ahead of any limit.

    Unsure stays or becomes a row whose two smallest keys have the same state, where a rate is unknown, the days
    are the same, or days past zero hide how far past.
    """
    best, second = keys[0].copy(), np.full(keys[0].shape, NO_LIMIT)
    for key in keys[1:]:
        np.minimum(second, np.maximum(best, key), out=second)
        np.minimum(best, key, out=best)
    unsure |= best < _state_key(DueStatus.UNKNOWN)
    unsure |= (best >> np.int32(2)) == (second >> np.int32(2))
    unsure &= (best >> STATE_SHIFT) == (second >> STATE_SHIFT)
    unsure &= best < NO_LIMIT
    return best, _ahead(keys).min(axis=0)


def _last(keys: Ints) -> tuple[Ints, Ints]:
    """Whichever comes last: the largest key of a limit that is there, and the most days ahead."""
    there = keys < NO_LIMIT
    key: Ints = np.where(there, keys, np.int32(0)).max(axis=0)
    ahead: Ints = np.where(there, _ahead(keys), -HALF).max(axis=0)
    nothing = ~there.any(axis=0)
    key[nothing], ahead[nothing] = NO_LIMIT, NEVER
    return key, ahead


def _ahead(keys: Ints) -> Ints:
    days: Ints = ((keys >> np.int32(2)) & DAYS_MASK) - HALF
    return days


def _settle(
    some: _Piece, rivals: NDArray[np.bool_], rules: Rules, counters: Counters, today: int
) -> NDArray[np.intp]:
    """Which of the rival limits governs: by days to go or, where a rate is not known, by the share that is left."""
    now = np.concatenate(
        [np.full((1, some.rule.size), today, np.int32), counters.now.take(some.aircraft, axis=1)]
    )
    per_day = np.concatenate(
        [np.full((1, some.rule.size), 1000), counters.per_day.take(some.aircraft, axis=1)]
    )
    is_known = some.due > MISSING
    left = np.where(is_known, some.due, now) - now
    with np.errstate(divide="ignore", invalid="ignore"):
        near = left * 1000.0 / per_day
    doubtful = (rivals & ~(is_known & (per_day > 0))).any(axis=0)
    rank = np.where(doubtful, left / rules.size.take(some.rule, axis=1), near)
    rank = np.where(rules.is_last.take(some.rule), -rank, rank)
    governing: NDArray[np.intp] = np.where(rivals, rank, np.inf).argmin(axis=0)
    return governing


def urgency_order(state: Bytes, day: Ints) -> Ints:
    """Row numbers, most urgent state first, then earliest day, rows that tie in their own order.

    States 1, 5, 1 with days 9, 7, 8 give 1, 2, 0. Stable 16-bit passes, which numpy sorts by radix: one where the
    days at hand fit, else two.
    """
    if not day.size:
        return np.empty(0, np.int32)
    dated = day < NO_DAY
    first, span = _span(day, dated)
    place = np.where(dated, day - first, span - 1)
    key = (len(STATES) - 1 - state.astype(np.int64)) * span + place
    if len(STATES) * span <= 2**16:
        return np.argsort(key.astype(np.uint16), kind="stable").astype(np.int32)
    order = np.argsort((key & 0xFFFF).astype(np.uint16), kind="stable")
    high = (key >> 16).astype(np.uint16)
    return order[np.argsort(high[order], kind="stable")].astype(np.int32)


def _span(day: Ints, dated: NDArray[np.bool_]) -> tuple[int, int]:
    """The first day there is, and how many places the days need, one more for no day."""
    first = int(day.min())
    last = int(day.max(where=dated, initial=first))
    return first, last - first + 2


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
    due = np.full(base.shape, ABSENT)
    for part in _parts(rule.shape[0]):
        shared = rule[part].astype(np.intp)
        for kind in range(len(KINDS)):
            amount = rules.amount[kind].take(shared)
            out, known = due[kind, part], base[kind, part]
            np.add(known, amount, out=out, where=amount > 0)
            if not kind:
                rows = np.flatnonzero(rules.by_month.take(shared) & (amount > 0) & (known != MISSING))
                to_end = rules.to_month_end.take(shared.take(rows))
                wanted = np.where(to_end, np.int32(31), _day_number(months_from[part].take(rows)))
                out[rows] = add_months(known.take(rows), amount.take(rows), wanted)
            out[(known == MISSING) & (amount > 0)] = MISSING
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
