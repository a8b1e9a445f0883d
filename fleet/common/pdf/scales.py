"""Round ticks for the axes of a chart. Pure."""

from __future__ import annotations

import math
from datetime import date, timedelta
from decimal import Decimal

_STEPS = (Decimal(1), Decimal(2), Decimal("2.5"), Decimal(5), Decimal(10))
_DAY_STEPS = (1, 2, 5, 7, 10, 14)
_MONTH_STEPS = (1, 2, 3, 6, 12, 24, 60, 120)
_MOST_DAYS_BY_DAY = 98


def value_ticks(low: float, high: float, *, most: int = 6) -> list[Decimal]:
    """Round values from at or below `low` to at or above `high`: `value_ticks(0, 10)` is 0, 2, … 10."""
    if high <= low:
        reach = abs(low) * 0.1 or 1.0
        low, high = low - reach, high + reach
    rough = Decimal((high - low) / most)
    power = Decimal(10) ** math.floor(rough.log10())
    step = next(power * factor for factor in _STEPS if power * factor >= rough)
    first = math.floor(Decimal(low) / step)
    last = math.ceil(Decimal(high) / step)
    return [(step * number).normalize() for number in range(first, last + 1)]


def value_words(ticks: list[Decimal]) -> list[str]:
    """The ticks with the same number of decimals each: 0.50, 0.75, 1.00."""
    places = max(0, *(-int(tick.as_tuple().exponent) for tick in ticks))
    return [f"{tick:,.{places}f}".replace("-", "−") for tick in ticks]


def date_ticks(first: date, last: date, *, most: int = 9) -> list[date]:
    """Round days between two days: every few days for a short span, firsts of months for a longer one."""
    span = (last - first).days
    if span <= _MOST_DAYS_BY_DAY:
        step = next((days for days in _DAY_STEPS if span / days < most), _DAY_STEPS[-1])
        return [first + timedelta(days=number) for number in range(0, span + 1, step)]
    months = span / 30.44
    step = next((count for count in _MONTH_STEPS if months / count < most), _MONTH_STEPS[-1])
    start = first.year * 12 + first.month - 1
    end = last.year * 12 + last.month - 1
    firsts = (date(month // 12, month % 12 + 1, 1) for month in range(start - start % step, end + 1, step))
    return [day for day in firsts if first <= day <= last]
