"""The kinds of limit, as frozen values that come from data and go back to it unchanged. Pure.

All limits are inclusive. Amounts are decimals as written in the approved data.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from fleet.quantities import exact_text, refused, unit_of
from scheduling.limits.fields import Fields
from scheduling.limits.rounding import RoundingMethod, places_of

UNROUNDED = RoundingMethod.UNROUNDED


class Basis(StrEnum):
    """What the allowed difference of a pair is measured against. There is no default: it changes verdicts."""

    ABSOLUTE = "absolute"
    OF_LARGER = "of_larger"
    OF_SMALLER = "of_smaller"
    OF_MEAN = "of_mean"
    OF_NOMINAL = "of_nominal"


@dataclass(frozen=True, slots=True)
class Bounds:
    """An inclusive interval in one unit, open where an end is missing; `places` is the limit's last place."""

    low: Fraction | None
    high: Fraction | None
    places: int


@dataclass(frozen=True, slots=True)
class NominalLimit:
    """nominal +plus/−minus: 1550 mL +600/−300 mL is 1250 to 2150 mL."""

    unit: str
    nominal: Decimal
    plus: Decimal
    minus: Decimal
    rounding: RoundingMethod = UNROUNDED

    def bounds(self) -> Bounds:
        """The interval the limit stands for."""
        low = Fraction(self.nominal) - Fraction(self.minus)
        high = Fraction(self.nominal) + Fraction(self.plus)
        return Bounds(low, high, places_of(self.nominal, self.plus, self.minus))


@dataclass(frozen=True, slots=True)
class RelativeLimit:
    """nominal +plus %/−minus % of it: 1500 mL +13 %/−10 % is 1350 to 1695 mL."""

    unit: str
    nominal: Decimal
    plus_percent: Decimal
    minus_percent: Decimal
    rounding: RoundingMethod = UNROUNDED

    def bounds(self) -> Bounds:
        """The interval the limit stands for."""
        low = Fraction(self.nominal) * (100 - Fraction(self.minus_percent)) / 100
        high = Fraction(self.nominal) * (100 + Fraction(self.plus_percent)) / 100
        return Bounds(low, high, places_of(low, high))


@dataclass(frozen=True, slots=True)
class MinimumLimit:
    """At least so much."""

    unit: str
    minimum: Decimal
    rounding: RoundingMethod = UNROUNDED

    def bounds(self) -> Bounds:
        """The interval the limit stands for."""
        return Bounds(Fraction(self.minimum), None, places_of(self.minimum))


@dataclass(frozen=True, slots=True)
class MaximumLimit:
    """At most so much."""

    unit: str
    maximum: Decimal
    rounding: RoundingMethod = UNROUNDED

    def bounds(self) -> Bounds:
        """The interval the limit stands for."""
        return Bounds(None, Fraction(self.maximum), places_of(self.maximum))


@dataclass(frozen=True, slots=True)
class WindowLimit:
    """Between low and high, both allowed."""

    unit: str
    low: Decimal
    high: Decimal
    rounding: RoundingMethod = UNROUNDED

    def bounds(self) -> Bounds:
        """The interval the limit stands for."""
        return Bounds(Fraction(self.low), Fraction(self.high), places_of(self.low, self.high))


@dataclass(frozen=True, slots=True)
class PairLimit:
    """Two readings no further apart than `maximum`: an amount in `unit`, or per cent of the basis.

    `nominal` is set only for the basis OF_NOMINAL.
    """

    unit: str
    basis: Basis
    maximum: Decimal
    nominal: Decimal | None = None
    rounding: RoundingMethod = UNROUNDED


@dataclass(frozen=True, slots=True)
class RatioLimit:
    """Smallest reading divided by the largest, at least `minimum` (above 0, at most 1)."""

    unit: str
    minimum: Decimal


@dataclass(frozen=True, slots=True)
class AllYesLimit:
    """Every answer yes; `expected` answers are asked for (at least 1)."""

    expected: int


IntervalLimit = NominalLimit | RelativeLimit | MinimumLimit | MaximumLimit | WindowLimit
Limit = IntervalLimit | PairLimit | RatioLimit | AllYesLimit


# ---------------------------------------------------------------- from data

_NOMINAL = ("kind", "unit", "nominal", "plus", "minus", "rounding")
_RELATIVE = ("kind", "unit", "nominal", "plus_percent", "minus_percent", "rounding")
_PAIR = ("kind", "unit", "basis", "maximum", "maximum_percent", "nominal", "rounding")


def limit_from_data(data: object, *, where: str = "limit") -> Limit:
    """The limit a JSON object describes: `{"kind": "minimum", "unit": "mL", "minimum": "1350"}`.

    Raises RefusedInput naming every wrong field at once (`limit.minimum`).
    """
    kind = data.get("kind") if isinstance(data, dict) else None
    reader = _READERS.get(kind) if isinstance(kind, str) else None
    if reader is None:
        remedy = f"use one of: {', '.join(_READERS)}"
        raise refused("bad_limit", f"{where}.kind", kind, "is not a kind of limit", remedy)
    return reader(data, where)


def _finished(fields: Fields, limit: Limit) -> Limit:
    fields.finish("bad_limit")
    return limit


def _rounding(fields: Fields) -> RoundingMethod:
    return fields.choice("rounding", RoundingMethod, UNROUNDED)


def _read_nominal(data: object, where: str) -> Limit:
    fields = Fields(data, where, _NOMINAL)
    plus, minus = fields.decimal("plus", least="0"), fields.decimal("minus", least="0")
    return _finished(
        fields, NominalLimit(fields.unit(), fields.decimal("nominal"), plus, minus, _rounding(fields))
    )


def _read_relative(data: object, where: str) -> Limit:
    fields = Fields(data, where, _RELATIVE)
    plus, minus = fields.decimal("plus_percent", least="0"), fields.decimal("minus_percent", least="0")
    nominal = fields.decimal("nominal", above="0")
    return _finished(fields, RelativeLimit(fields.unit(), nominal, plus, minus, _rounding(fields)))


def _read_minimum(data: object, where: str) -> Limit:
    fields = Fields(data, where, ("kind", "unit", "minimum", "rounding"))
    return _finished(fields, MinimumLimit(fields.unit(), fields.decimal("minimum"), _rounding(fields)))


def _read_maximum(data: object, where: str) -> Limit:
    fields = Fields(data, where, ("kind", "unit", "maximum", "rounding"))
    return _finished(fields, MaximumLimit(fields.unit(), fields.decimal("maximum"), _rounding(fields)))


def _read_window(data: object, where: str) -> Limit:
    fields = Fields(data, where, ("kind", "unit", "low", "high", "rounding"))
    low, high = fields.decimal("low"), fields.decimal("high")
    if not fields.reasons and low > high:
        fields.complain("low", f"is above high ({high})", "swap low and high")
    return _finished(fields, WindowLimit(fields.unit(), low, high, _rounding(fields)))


def _read_pair(data: object, where: str) -> Limit:
    fields = Fields(data, where, _PAIR)
    if "basis" not in fields.values:
        fields.complain("basis", "is missing: it changes verdicts", f"use one of: {', '.join(Basis)}")
    basis = fields.choice("basis", Basis, Basis.ABSOLUTE)
    absolute = basis is Basis.ABSOLUTE
    amount, other = ("maximum", "maximum_percent") if absolute else ("maximum_percent", "maximum")
    maximum = fields.decimal(amount, least="0")
    if other in fields.values:
        fields.complain(other, f"does not belong to the basis {basis}", f"write {amount} only")
    nominal = fields.decimal("nominal", above="0") if basis is Basis.OF_NOMINAL else None
    if nominal is None and "nominal" in fields.values:
        fields.complain("nominal", f"does not belong to the basis {basis}", "leave it out")
    rounding = _rounding(fields)
    if rounding is not UNROUNDED and not absolute:
        fields.complain("rounding", "is offered for absolute differences only", "leave it out")
    return _finished(fields, PairLimit(fields.unit(), basis, maximum, nominal, rounding))


def _read_ratio(data: object, where: str) -> Limit:
    fields = Fields(data, where, ("kind", "unit", "minimum"))
    minimum = fields.decimal("minimum", above="0")
    if minimum > 1:
        fields.complain("minimum", "is above 1: smallest by largest never is", "write 1 or less, such as 0.9")
    return _finished(fields, RatioLimit(fields.unit(), minimum))


def _read_all_yes(data: object, where: str) -> Limit:
    fields = Fields(data, where, ("kind", "expected"))
    return _finished(fields, AllYesLimit(fields.whole("expected", 1, least=1)))


_READERS: dict[str, Callable[[object, str], Limit]] = {
    "nominal": _read_nominal,
    "relative": _read_relative,
    "minimum": _read_minimum,
    "maximum": _read_maximum,
    "window": _read_window,
    "pair_difference": _read_pair,
    "ratio": _read_ratio,
    "all_yes": _read_all_yes,
}


# ---------------------------------------------------------------- to data and to words


def limit_to_data(limit: Limit) -> dict[str, str | int]:
    """The JSON object of a limit; reading it back gives an equal limit."""
    match limit:
        case NominalLimit():
            body = _texts(kind="nominal", nominal=limit.nominal, plus=limit.plus, minus=limit.minus)
        case RelativeLimit():
            percents = {"plus_percent": limit.plus_percent, "minus_percent": limit.minus_percent}
            body = _texts(kind="relative", nominal=limit.nominal, **percents)
        case MinimumLimit():
            body = _texts(kind="minimum", minimum=limit.minimum)
        case MaximumLimit():
            body = _texts(kind="maximum", maximum=limit.maximum)
        case WindowLimit():
            body = _texts(kind="window", low=limit.low, high=limit.high)
        case PairLimit():
            amount = "maximum" if limit.basis is Basis.ABSOLUTE else "maximum_percent"
            nominal = {} if limit.nominal is None else {"nominal": limit.nominal}
            body = _texts(
                kind="pair_difference", basis=limit.basis.value, **{amount: limit.maximum}, **nominal
            )
        case RatioLimit():
            return _texts(kind="ratio", minimum=limit.minimum, unit=limit.unit)
        case AllYesLimit():
            return {"kind": "all_yes", "expected": limit.expected}
    rounding = {} if limit.rounding is UNROUNDED else {"rounding": limit.rounding.value}
    return {**body, "unit": limit.unit, **rounding}


def _texts(**values: Decimal | str) -> dict[str, str | int]:
    return {
        name: format(value, "f") if isinstance(value, Decimal) else value for name, value in values.items()
    }


_BASIS_WORDS = {
    Basis.OF_LARGER: "the larger",
    Basis.OF_SMALLER: "the smaller",
    Basis.OF_MEAN: "their mean",
    Basis.OF_NOMINAL: "the nominal",
}


def describe(limit: Limit) -> str:
    """The limit in words: "1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)"."""
    words = _in_words(limit)
    if getattr(limit, "rounding", UNROUNDED) is not UNROUNDED:
        return f"{words}; the reading is rounded half to even to the limit's last place first"
    return words


def _in_words(limit: Limit) -> str:
    unit = "" if isinstance(limit, AllYesLimit) else f" {unit_of(limit.unit).label}".rstrip()
    match limit:
        case NominalLimit():
            return f"{limit.nominal:f}{unit} +{limit.plus:f}/−{limit.minus:f}{unit} ({_span(limit, unit)})"
        case RelativeLimit():
            percents = f"+{limit.plus_percent:f}/−{limit.minus_percent:f} %"
            return f"{limit.nominal:f}{unit} {percents} ({_span(limit, unit)})"
        case MinimumLimit():
            return f"at least {limit.minimum:f}{unit}"
        case MaximumLimit():
            return f"at most {limit.maximum:f}{unit}"
        case WindowLimit():
            return _span(limit, unit)
        case PairLimit():
            return _pair_in_words(limit, unit)
        case RatioLimit():
            return f"smallest divided by largest at least {limit.minimum:f}"
        case AllYesLimit():
            return "yes" if limit.expected == 1 else f"yes, all {limit.expected}"


def _span(limit: IntervalLimit, unit: str) -> str:
    bounds = limit.bounds()
    low, high = exact_text(bounds.low or Fraction(0)), exact_text(bounds.high or Fraction(0))
    return f"{low} to {high}{unit}, both allowed"


def _pair_in_words(limit: PairLimit, unit: str) -> str:
    if limit.basis is Basis.ABSOLUTE:
        return f"within {limit.maximum:f}{unit} of each other"
    of_what = _BASIS_WORDS[limit.basis]
    nominal = "" if limit.nominal is None else f" ({limit.nominal:f}{unit})"
    return f"within {limit.maximum:f} % of {of_what}{nominal} of each other"
