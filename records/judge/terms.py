"""The words of a verdict: outcome, reading, amount, margin. Pure."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from fleet.quantities import Exact, Quantity, convert, exact_text, to_decimal, unit_of

SHOWN_PLACES = 3


class Outcome(StrEnum):
    """What a judgement can come to. Only PASS passes."""

    PASS = "pass"  # noqa: S105 an outcome, no secret
    CONDITIONAL_PASS = "conditional_pass"  # noqa: S105
    CONDITIONAL_FAIL = "conditional_fail"
    FAIL = "fail"
    INCOMPLETE = "incomplete"
    INVALID = "invalid"
    REFUSED_INPUT = "refused_input"


@dataclass(frozen=True, slots=True)
class Amount:
    """A computed exact value with its unit, such as a volume got by weighing."""

    value: Fraction
    unit: str

    def in_unit(self, target: str, *, field: str = "unit") -> Fraction:
        """The exact amount in another unit of the same dimension."""
        return convert(self.value, self.unit, target, field=field)

    def __str__(self) -> str:
        return shown(self.value, self.unit)


Measured = Quantity | Amount
Reading = Measured | bool | None


def display_decimal(value: Exact, places: int = SHOWN_PLACES) -> Decimal:
    """Short enough to read, never rounded to a lie: `display_decimal(Fraction(-1, 30000))` is -0.0000333.

    Three digits of a small value stay, so what is not zero is never shown as zero. Trailing zeros go.
    """
    exact = Fraction(value)
    while exact and abs(exact) < Fraction(1, 10 ** (places - 2)):
        places += 1
    text = format(to_decimal(exact, places), "f")
    return Decimal(text.rstrip("0").rstrip(".") if "." in text else text)


def shown(value: Exact, unit: str) -> str:
    """A value for people: `shown(Fraction(2699, 2), "mL")` is "1349.5 mL"."""
    return f"{display_decimal(value):f} {unit_of(unit).label}".rstrip()


@dataclass(frozen=True, slots=True)
class Verdict:
    """One judgement. `margin` is how far inside the nearest tolerance limit, negative outside, in `unit`.

    `value` is what was compared; `nearest` names the limit that is nearest or most broken ("low", "high").
    `acceptance_margin` is the distance inside the acceptance limit; without a guard band it equals `margin`.
    """

    outcome: Outcome
    reason: str
    unit: str = "1"
    value: Fraction | None = None
    margin: Fraction | None = None
    acceptance_margin: Fraction | None = None
    nearest: str = ""
    nearest_limit: Fraction | None = None

    @property
    def passes(self) -> bool:
        """Whether this counts as passed: PASS and nothing else."""
        return self.outcome is Outcome.PASS

    @property
    def margin_shown(self) -> Decimal | None:
        """The margin for people; never zero unless it is zero."""
        return None if self.margin is None else display_decimal(self.margin)

    def to_data(self) -> dict[str, str | None]:
        """As JSON: exact numbers as text ("-0.4", or "13/7" where no decimal ends)."""
        return {
            "outcome": self.outcome.value,
            "reason": self.reason,
            "unit": self.unit,
            "value": _text(self.value),
            "margin": _text(self.margin),
            "margin_shown": None if self.margin_shown is None else format(self.margin_shown, "f"),
            "acceptance_margin": _text(self.acceptance_margin),
            "nearest": self.nearest,
            "nearest_limit": _text(self.nearest_limit),
        }


def _text(value: Fraction | None) -> str | None:
    return None if value is None else exact_text(value)
