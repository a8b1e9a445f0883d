"""A remaining bar like the scale of an instrument: used part, limit tick, early mark. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

Exact = int | Decimal | Fraction

WHOLE_TICKS = 10


@dataclass(frozen=True, slots=True)
class Gauge:
    """Places in percent of the bar's width: used part, limit, part over it, early mark, evenly spaced ticks."""

    filled: str
    limit: str
    over: str
    early: str
    ticks: tuple[str, ...]

    @property
    def is_over(self) -> bool:
        return bool(self.over)


def percent(share: Fraction) -> str:
    """A share of the whole as SVG reads it: `percent(Fraction(1, 3))` is "33.33%"."""
    return f"{float(share * 100):.2f}%"


def gauge(used: Exact, limit: Exact, early: Exact | None = None) -> Gauge:
    """Lay out a bar: `gauge(50, 200).filled` is "25.00%"; past the limit the limit's tick moves to the left.

    Raises ValueError where the limit is not above zero. Less than nothing used shows as nothing.
    """
    if limit <= 0:
        raise ValueError(f"the limit of a gauge must be above zero, it is {limit}")
    spent, whole = max(Fraction(0), Fraction(used)), Fraction(limit)
    end = max(spent, whole)
    step = whole / WHOLE_TICKS
    ticks = tuple(percent(step * n / end) for n in range(WHOLE_TICKS + 1))
    return Gauge(
        filled=percent(min(spent, whole) / end),
        limit=percent(whole / end),
        over=percent((spent - whole) / end) if spent > whole else "",
        early=percent(Fraction(early) / end) if early is not None else "",
        ticks=ticks,
    )
