"""Plain arithmetic for one requirement at a time: what the columns of `scheduling.due.arrays` must agree with.

Written without looking at the columns: dates, fractions and python-dateutil, one row after the other.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from dateutil.relativedelta import relativedelta

FARTHEST = timedelta(days=7305)


@dataclass(frozen=True, slots=True)
class PlainLimit:
    """One limit: its kind (0 calendar, 1 hours, 2 landings, 3 cycles) and where it falls due, None: not known."""

    kind: int
    due: date | int | None
    soon: int
    slack: int
    size: int


@dataclass(frozen=True, slots=True)
class PlainAnswer:
    """State code, governing kind and projected day, as the columns give them."""

    state: int
    governing: int | None
    day: date | None


def months_later(base: date, months_from: date, months: int, *, to_month_end: bool) -> date:
    """Calendar months counted from the anchor's day number, or to the end of the month."""
    if to_month_end:
        return base + relativedelta(months=months, day=31)
    return base + relativedelta(months=months, day=months_from.day)


@dataclass(frozen=True, slots=True)
class _Stand:
    kind: int
    state: int
    near: Fraction | None
    share: Fraction
    day: date | None


def _stand(limit: PlainLimit, now: Sequence[int], per_day: Sequence[int], today: date) -> _Stand:
    if limit.due is None:
        return _Stand(limit.kind, 3, None, Fraction(0), None)
    if isinstance(limit.due, date):
        left = (limit.due - today).days
        near: Fraction | None = Fraction(left)
        day: date | None = limit.due
    else:
        left = limit.due - now[limit.kind - 1]
        rate = per_day[limit.kind - 1]
        near = Fraction(left * 1000, rate) if rate else None
        day = _projected(left, near, today)
    state = 5 if left + limit.slack < 0 else 4 if left <= 0 else 2 if left <= limit.soon else 1
    return _Stand(limit.kind, state, near, Fraction(left, limit.size), day)


def _projected(left: int, near: Fraction | None, today: date) -> date | None:
    if left <= 0:
        return today
    if near is None or near >= FARTHEST.days + 1:
        return None
    return today + timedelta(days=int(near))


def answer(
    limits: Sequence[PlainLimit], now: Sequence[int], per_day: Sequence[int], today: date, *, is_last: bool
) -> PlainAnswer:
    """How the requirement stands; limits in the order of their kinds."""
    stands = [_stand(limit, now, per_day, today) for limit in limits]
    if not stands:
        return PlainAnswer(0, None, None)
    choose = min if is_last else max
    state = choose(stand.state for stand in stands)
    rivals = [stand for stand in stands if stand.state == state]
    nears = [stand.near for stand in rivals]
    known = [near for near in nears if near is not None]
    ranks = known if len(known) == len(nears) else [stand.share for stand in rivals]
    best = max(ranks) if is_last else min(ranks)
    days = [stand.day for stand in stands]
    dated = [day for day in days if day is not None]
    if is_last and len(dated) < len(days):
        dated = []
    day = (max if is_last else min)(dated, default=None)
    return PlainAnswer(state, rivals[ranks.index(best)].kind, day)
