"""Rounding of an observed value by a rule the limit states. Pure.

Absolute method (default): the unrounded value is compared. Rounding method (ASTM E29, from memory): the value
is rounded half to even to the last place of the limit, then compared. Never mixed, never for display.
"""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from fleet.quantities import Rounding, exact_text, whole_number


class RoundingMethod(StrEnum):
    """How an observed value is compared with a limit."""

    UNROUNDED = "unrounded"
    HALF_EVEN = "half_even"


def places_of(*limits: Decimal | Fraction) -> int:
    """The last place a limit is written to: `places_of(Decimal("27.50"), Decimal("1"))` is 2."""
    return max(_places(limit) for limit in limits)


def _places(limit: Decimal | Fraction) -> int:
    text = exact_text(limit) if isinstance(limit, Fraction) else format(limit, "f")
    return len(text.partition(".")[2])


def as_compared(value: Fraction, method: RoundingMethod, places: int) -> Fraction:
    """The value as the method compares it: 1350.5 at no places is 1350 by HALF_EVEN, 1350.5 UNROUNDED."""
    if method is RoundingMethod.UNROUNDED:
        return value
    return Fraction(whole_number(value * 10**places, Rounding.HALF_EVEN), 10**places)
