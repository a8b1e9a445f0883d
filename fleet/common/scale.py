"""Scales and tick marks for drawings. Pure."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from fleet.common.wording import MONTHS, SPACE, grouped

STEPS_OF_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120)
MOST_DATE_TICKS = 8


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight line from values to places: `Scale(0, 10, 268, 34).at(5)` is 151.0."""

    low: float
    high: float
    start: float
    end: float

    def at(self, value: float) -> float:
        """Where a value lies; a scale of no length puts everything in its middle."""
        if self.high == self.low:
            return (self.start + self.end) / 2
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    @classmethod
    def of_days(cls, days: Iterable[date], start: float, end: float) -> Scale:
        """A scale over whole days, from the first to the last."""
        numbers = [day.toordinal() for day in days]
        return cls(min(numbers), max(numbers), start, end)


def nice_step(width: float, wanted: int) -> float:
    """1, 2 or 5 times a power of ten that cuts a width into about so many parts: `nice_step(10, 5)` is 2.0."""
    raw = width / wanted
    power = 10.0 ** math.floor(math.log10(raw))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= raw * 0.999)


def nice_ticks(low: float, high: float, wanted: int = 5) -> list[float]:
    """Round values that enclose `low` and `high`: `nice_ticks(1.2, 4.1)` is [1.0, 2.0, 3.0, 4.0, 5.0]."""
    if low == high:
        low, high = low - (abs(low) or 1) * 0.1, high + (abs(high) or 1) * 0.1
    step = nice_step(high - low, wanted)
    first, last = math.floor(low / step), math.ceil(high / step)
    return [round(index * step, 10) for index in range(first, last + 1)]


def date_ticks(first: date, last: date) -> list[tuple[date, str]]:
    """First days of months between two days, at most eight, with their words: (1 Mar 2026, "Mar 2026").

    A span that holds fewer than two of them is marked by its own ends.
    """
    months = (last.year - first.year) * 12 + last.month - first.month
    step = next((size for size in STEPS_OF_MONTHS if months / size <= MOST_DATE_TICKS), STEPS_OF_MONTHS[-1])
    count = first.year * 12 + first.month - 1
    count += -count % step
    ticks = []
    while (day := date(count // 12, count % 12 + 1, 1)) <= last:
        if day >= first:
            ticks.append((day, f"{MONTHS[day.month - 1]}{SPACE}{day.year}"))
        count += step
    if len(ticks) >= 2 or first == last:
        return ticks or [(first, _short(first))]
    return [(first, _short(first)), (last, _short(last))]


def _short(day: date) -> str:
    return f"{day.day}{SPACE}{MONTHS[day.month - 1]}{SPACE}{day.year}"


def number_text(value: float | int | Decimal) -> str:
    """A tick or a statistic without needless zeros: `number_text(2.50)` is "2.5"."""
    return grouped(f"{float(value):.6f}".rstrip("0").rstrip("."))
