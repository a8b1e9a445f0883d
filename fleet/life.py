"""Life-limited parts: how much life is left, and when a removed part needs a disposition. Pure.

14 CFR 43.10: life status is the accumulated cycles, hours or other mandatory limit of a part; a part removed and
put back for maintenance needs no disposition if its life status does not change, it goes back to the same
serial-numbered product, and that product accrues no time in service meanwhile.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class Parameter(StrEnum):
    """What a life is counted in. Time is in whole minutes, calendar life in whole months since manufacture."""

    MINUTES = "minutes"
    LANDINGS = "landings"
    CYCLES = "cycles"
    MONTHS = "months"


@dataclass(frozen=True, slots=True)
class Limit:
    """The most life a part may have in one parameter, and the approved data that says so."""

    parameter: Parameter
    limit: int
    source: str = ""


@dataclass(frozen=True, slots=True)
class Remaining:
    """Limit, life accumulated and life left in one parameter; below zero by as much as it is overrun.

    `accumulated` and `remaining` are None where nothing says when the part was made. `ends_on` is the last day of a
    calendar life, which is reached the day after; a counted life is reached when nothing is left.
    """

    parameter: Parameter
    limit: int
    accumulated: int | None
    remaining: int | None
    source: str = ""
    ends_on: date | None = None
    is_reached: bool = False


def months_later(start: date, months: int) -> date:
    """The same day so many months on, or the last of that month: 31 Jan 2026 and 1 month is 28 Feb 2026."""
    index = start.year * 12 + start.month - 1 + months
    year, month = divmod(index, 12)
    return date(year, month + 1, min(start.day, monthrange(year, month + 1)[1]))


def whole_months(start: date, end: date) -> int:
    """Complete months from one day to another: 15 Jan to 14 Mar is 1, to 15 Mar is 2; below zero backwards."""
    if end < start:
        return -whole_months(end, start)
    months = (end.year - start.year) * 12 + end.month - start.month
    return months if months_later(start, months) <= end else months - 1


def life_status(
    limits: Iterable[Limit], totals: Mapping[Parameter, int], manufactured_on: date | None, today: date
) -> tuple[Remaining, ...]:
    """Limit, accumulated and remaining in every limited parameter.

    >>> life_status([Limit(Parameter.LANDINGS, 10000)], {Parameter.LANDINGS: 9640}, None, date(2026, 1, 1))[0].remaining
    360
    """
    return tuple(
        _calendar_life(limit, manufactured_on, today)
        if limit.parameter is Parameter.MONTHS
        else _counted_life(limit, totals)
        for limit in limits
    )


def _counted_life(limit: Limit, totals: Mapping[Parameter, int]) -> Remaining:
    used = totals[limit.parameter]
    left = limit.limit - used
    return Remaining(limit.parameter, limit.limit, used, left, limit.source, is_reached=left <= 0)


def _calendar_life(limit: Limit, manufactured_on: date | None, today: date) -> Remaining:
    if manufactured_on is None:
        return Remaining(limit.parameter, limit.limit, None, None, limit.source)
    ends_on = months_later(manufactured_on, limit.limit)
    return Remaining(
        limit.parameter,
        limit.limit,
        whole_months(manufactured_on, today),
        whole_months(today, ends_on),
        limit.source,
        ends_on,
        is_reached=today > ends_on,
    )


@dataclass(frozen=True, slots=True)
class PartOnProduct:
    """A part, its life status, and the product it came off or goes on, with that product's total time."""

    product: str
    product_minutes: int
    life: tuple[int, ...] = ()


def disposition_reasons(removed: PartOnProduct, refitted: PartOnProduct) -> tuple[str, ...]:
    """Why a removed part needed a disposition before it was refitted; empty for a temporary removal.

    Temporary (14 CFR 43.10(b)): same product, same life status, and the product flew nothing in between.
    """
    reasons = []
    if refitted.product != removed.product:
        reasons.append(f"it was fitted to {refitted.product}, having come off {removed.product}")
    elif refitted.product_minutes != removed.product_minutes:
        reasons.append(f"{removed.product} accrued time in service meanwhile")
    if refitted.life != removed.life:
        reasons.append("its life status changed")
    return tuple(reasons)
