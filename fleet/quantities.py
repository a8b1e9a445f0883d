"""Exact values: hours as whole minutes, decimals as written, unit factors as fractions. Pure.

No float passes here. Unit factors: NIST SP 811 (2008) appendix B and the SI defining values, all exact except
the conventional inch of mercury, which is a rounded value by definition (3386.389 Pa).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from fractions import Fraction

from fleet.common.errors import Invalid, Reason

Exact = int | Decimal | Fraction

MAX_DIGITS = 15
MAX_PLACES = 9
MAX_HOURS_DIGITS = 7


class RefusedInput(Invalid):
    """What was written is not a usable value; the reason names field, value and remedy (HTTP 422)."""


def refused(code: str, field: str, value: object, detail: str, remedy: str) -> RefusedInput:
    """Build the refusal: `raise refused("not_a_number", "left", "abc", "is no number", "write 1350.5")`."""
    reason = Reason(detail=detail, field=field, value=str(value)[:60], remedy=remedy)
    return RefusedInput(code, reason.sentence(), reason)


# ---------------------------------------------------------------- decimals as written


def plain_number(written: object) -> int | None:
    """A count or key as a page sends it back: `" 12 "` is 12; `"-1"`, `"²"`, and what no table could hold, are none."""
    text = str(written).strip()
    return int(text) if text.isascii() and text.isdigit() and len(text) <= MAX_DIGITS else None


_MAX_WRITTEN = 40
_PLAIN_DECIMAL = re.compile(r"-?[0-9]+(\.[0-9]+)?")


def parse_decimal(
    written: object, *, field: str = "value", max_digits: int = MAX_DIGITS, max_places: int = MAX_PLACES
) -> Decimal:
    """A plain decimal as written, trailing zeros kept: `parse_decimal("1350.50")` is Decimal("1350.50").

    Takes text, int or Decimal. Refuses floats, NaN, infinities, exponents, commas, signs other than a leading
    minus, and more digits than a reading can honestly carry. Raises RefusedInput.
    """
    text = _written_text(written, field)
    if not _PLAIN_DECIMAL.fullmatch(text):
        remedy = "use a point: 1350.5" if "," in text else "write a plain number such as 1350.5"
        raise refused("not_a_number", field, text, "is not a plain decimal number", remedy)
    whole, _, places = text.lstrip("-").partition(".")
    if len(places) > max_places:
        raise refused(
            "too_many_places", field, text, f"has more than {max_places} decimals", "write fewer decimals"
        )
    if len(whole.lstrip("0")) + len(places) > max_digits:
        raise refused(
            "too_many_digits", field, text, f"has more than {max_digits} digits", "check the number"
        )
    return Decimal(text)


def _written_text(written: object, field: str) -> str:
    if isinstance(written, str):
        return written.strip()
    if isinstance(written, bool) or not isinstance(written, int | Decimal):
        kind = type(written).__name__
        detail = f"is not text or an exact number (it is {'nothing' if written is None else kind})"
        raise refused("not_exact", field, written, detail, 'send it as text, such as "1350.5"')
    if isinstance(written, int) and written.bit_length() > _MAX_WRITTEN * 4:
        raise refused("too_many_digits", field, "", f"has more than {MAX_DIGITS} digits", "check the number")
    if isinstance(written, Decimal) and written.is_finite() and abs(written.adjusted()) <= _MAX_WRITTEN:
        return format(written, "f")
    return str(written)


# ---------------------------------------------------------------- rounding for display and by stated rule


class Rounding(StrEnum):
    """A stated rounding rule. EXACT refuses whatever would have to be rounded."""

    EXACT = "exact"
    HALF_EVEN = "half_even"
    HALF_UP = "half_up"
    DOWN = "down"
    UP = "up"


def whole_number(value: Fraction, rule: Rounding, *, field: str = "value") -> int:
    """A fraction rounded to a whole number: `whole_number(Fraction(5, 2), Rounding.HALF_EVEN)` is 2.

    Halves and signs behave as in the standard `decimal` module; EXACT raises RefusedInput on any remainder.
    """
    if value.denominator == 1:
        return value.numerator
    if rule is Rounding.EXACT:
        raise refused(
            "not_exact", field, value, "is not a whole number", "give a rounding rule or an exact value"
        )
    size = abs(value)
    floor = size.numerator // size.denominator
    rest = size - floor
    half = Fraction(1, 2)
    up = (
        rule is Rounding.UP
        or (rule is Rounding.HALF_UP and rest >= half)
        or (rule is Rounding.HALF_EVEN and (rest > half or (rest == half and floor % 2 == 1)))
    )
    result = floor + up
    return result if value > 0 else -result


def to_decimal(value: Exact, places: int, rule: Rounding = Rounding.HALF_EVEN) -> Decimal:
    """A decimal with so many places, for display: `to_decimal(Fraction(1, 3), 2)` is Decimal("0.33")."""
    number = whole_number(Fraction(value) * 10**places, rule)
    digits = tuple(int(digit) for digit in str(abs(number)))
    return Decimal((int(number < 0), digits, -places))


def exact_text(value: Exact) -> str:
    """A value without loss, as a decimal where one ends: 45/2 is "22.5", but 1/3 stays "1/3"."""
    fraction = Fraction(value)
    rest, twos, fives = fraction.denominator, 0, 0
    while rest % 2 == 0:
        rest, twos = rest // 2, twos + 1
    while rest % 5 == 0:
        rest, fives = rest // 5, fives + 1
    if rest != 1 or max(twos, fives) > MAX_DIGITS:
        return f"{fraction.numerator}/{fraction.denominator}"
    return format(to_decimal(fraction, max(twos, fives), Rounding.EXACT), "f")


# ---------------------------------------------------------------- hours as whole minutes

_CLOCK_HOURS = re.compile(r"([0-9]+|[0-9]{1,3}(?:[ \u00a0][0-9]{3})+):([0-5][0-9])(?:[ \u00a0]?h)?")


def format_minutes(minutes: int) -> str:
    """Whole minutes as hours and minutes: `format_minutes(78270)` is "1304:30"; negative is "-0:30"."""
    sign = "-" if minutes < 0 else ""
    return f"{sign}{abs(minutes) // 60}:{abs(minutes) % 60:02d}"


def parse_hours(written: object, *, rounding: Rounding = Rounding.EXACT, field: str = "hours") -> int:
    """Whole minutes from "1304:30", "1 304:30 h" as people read it, or decimal hours "1304.5": all are 78270.

    Decimal hours that are no whole number of minutes ("1304.33" is 19.8 minutes past) are refused, unless the
    caller states a rounding rule. Negative hours are refused. Takes text, int (whole hours) or Decimal.
    Raises RefusedInput.
    """
    text = _written_text(written, field)
    clock = _CLOCK_HOURS.fullmatch(text)
    whole = re.sub(r"[ \u00a0]", "", clock[1]).lstrip("0") if clock else ""
    if clock and len(whole) <= MAX_HOURS_DIGITS:
        return int(whole or "0") * 60 + int(clock[2])
    if ":" in text:
        detail = "is not hours and minutes"
        raise refused(
            "not_hours", field, text, detail, "write hours, a colon and two digits of minutes: 1304:30"
        )
    hours = parse_decimal(text, field=field, max_digits=MAX_HOURS_DIGITS + MAX_PLACES)
    if hours < 0:
        raise refused("negative_hours", field, text, "is below zero", "write hours of zero or more")
    if hours >= 10**MAX_HOURS_DIGITS:
        raise refused(
            "too_many_digits", field, text, "is more hours than any aircraft flies", "check the number"
        )
    minutes = Fraction(hours) * 60
    if rounding is Rounding.EXACT and minutes.denominator != 1:
        detail = "is not a whole number of minutes"
        raise refused("not_whole_minutes", field, text, detail, "write hours and minutes, such as 1304:20")
    return whole_number(minutes, rounding, field=field)


# ---------------------------------------------------------------- units


class Dimension(StrEnum):
    """What a unit measures. Two units convert only within one dimension."""

    VOLUME = "volume"
    MASS = "mass"
    VOLTAGE = "voltage"
    TIME = "time"
    TEMPERATURE = "temperature"
    PRESSURE = "pressure"
    FLOW = "volume flow"
    DENSITY = "density"
    RATIO = "ratio"


@dataclass(frozen=True, slots=True)
class Unit:
    """One unit: value in base unit = value * factor + offset (base: mL, g, V, s, K, Pa, mL/s, g/mL, 1)."""

    code: str
    dimension: Dimension
    factor: Fraction
    offset: Fraction = Fraction(0)
    symbol: str = ""

    @property
    def label(self) -> str:
        """What a reader sees: the symbol where there is one, else the code."""
        return self.symbol or ("" if self.code == "1" else self.code)


_CUBIC_INCH_ML = Fraction("16.387064")
_US_GALLON_ML = 231 * _CUBIC_INCH_ML
_IMPERIAL_GALLON_ML = Fraction("4546.09")
_POUND_G = Fraction("453.59237")
_PSI_PA = Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2
_FAHRENHEIT_ZERO_K = Fraction("273.15") - 32 * Fraction(5, 9)

_V, _M, _T, _P = Dimension.VOLUME, Dimension.MASS, Dimension.TIME, Dimension.PRESSURE

UNITS: dict[str, Unit] = {
    unit.code: unit
    for unit in (
        Unit("mL", _V, Fraction(1)),
        Unit("L", _V, Fraction(1000)),
        Unit("in3", _V, _CUBIC_INCH_ML, symbol="in³"),
        Unit("US gal", _V, _US_GALLON_ML),
        Unit("US qt", _V, _US_GALLON_ML / 4),
        Unit("US pt", _V, _US_GALLON_ML / 8),
        Unit("US fl oz", _V, _US_GALLON_ML / 128),
        Unit("imp gal", _V, _IMPERIAL_GALLON_ML),
        Unit("imp fl oz", _V, _IMPERIAL_GALLON_ML / 160),
        Unit("g", _M, Fraction(1)),
        Unit("kg", _M, Fraction(1000)),
        Unit("lb", _M, _POUND_G),
        Unit("V", Dimension.VOLTAGE, Fraction(1)),
        Unit("mV", Dimension.VOLTAGE, Fraction(1, 1000)),
        Unit("s", _T, Fraction(1)),
        Unit("min", _T, Fraction(60)),
        Unit("h", _T, Fraction(3600)),
        Unit("K", Dimension.TEMPERATURE, Fraction(1)),
        Unit("degC", Dimension.TEMPERATURE, Fraction(1), Fraction("273.15"), "°C"),
        Unit("degF", Dimension.TEMPERATURE, Fraction(5, 9), _FAHRENHEIT_ZERO_K, "°F"),
        Unit("Pa", _P, Fraction(1)),
        Unit("hPa", _P, Fraction(100)),
        Unit("kPa", _P, Fraction(1000)),
        Unit("bar", _P, Fraction(100_000)),
        Unit("psi", _P, _PSI_PA),
        Unit("inHg", _P, Fraction("3386.389")),
        Unit("mL/min", Dimension.FLOW, Fraction(1, 60)),
        Unit("L/min", Dimension.FLOW, Fraction(1000, 60)),
        Unit("L/h", Dimension.FLOW, Fraction(1000, 3600)),
        Unit("US gal/h", Dimension.FLOW, _US_GALLON_ML / 3600),
        Unit("g/mL", Dimension.DENSITY, Fraction(1)),
        Unit("kg/L", Dimension.DENSITY, Fraction(1)),
        Unit("kg/m3", Dimension.DENSITY, Fraction(1, 1000), symbol="kg/m³"),
        Unit("lb/US gal", Dimension.DENSITY, _POUND_G / _US_GALLON_ML),
        Unit("1", Dimension.RATIO, Fraction(1), symbol=""),
        Unit("%", Dimension.RATIO, Fraction(1, 100)),
    )
}

_ALSO_WRITTEN = {"ml": "mL", "l": "L", "in³": "in3", "°C": "degC", "°F": "degF", "kg/m³": "kg/m3", "": "1"}

# Each of these means two different amounts; US and imperial fluid ounces alone differ by 4 %.
_AMBIGUOUS = {
    "oz": "US fl oz, imp fl oz or g",
    "fl oz": "US fl oz or imp fl oz",
    "floz": "US fl oz or imp fl oz",
    "ounce": "US fl oz, imp fl oz or g",
    "gal": "US gal or imp gal",
    "gallon": "US gal or imp gal",
    "pt": "US pt or mL",
    "qt": "US qt or mL",
    "gal/h": "US gal/h or L/h",
}


def units_also_written() -> tuple[dict[str, str], dict[str, str]]:
    """Other spellings of units, and spellings that mean two amounts: `units_also_written()[0]["ml"]` is "mL"."""
    return dict(_ALSO_WRITTEN), dict(_AMBIGUOUS)


def unit_of(code: str, *, field: str = "unit") -> Unit:
    """The unit of that code; bare "oz" or "gal" is refused: `unit_of("US qt").factor` is 946.352946 mL."""
    code = _ALSO_WRITTEN.get(code.strip(), code.strip())
    if code.lower() in _AMBIGUOUS:
        raise refused(
            "ambiguous_unit", field, code, "means two different amounts", f"say {_AMBIGUOUS[code.lower()]}"
        )
    if code not in UNITS:
        known = ", ".join(known_code for known_code in UNITS if known_code != "1")
        raise refused("unknown_unit", field, code, "is not a unit we know", f"use one of: {known}")
    return UNITS[code]


def require_dimension(unit: str, wanted: Dimension, *, field: str = "unit") -> Unit:
    """The unit, if it measures the wanted dimension: grams against millilitres are refused."""
    found = unit_of(unit, field=field)
    if found.dimension is not wanted:
        same = ", ".join(each.code for each in UNITS.values() if each.dimension is wanted)
        detail = f"measures {found.dimension}, but {wanted} is wanted"
        raise refused("wrong_dimension", field, unit, detail, f"use one of: {same}")
    return found


def convert(value: Exact, source: str, target: str, *, field: str = "unit") -> Fraction:
    """The same amount in another unit, exactly: `convert(1, "US qt", "mL")` is Fraction("946.352946")."""
    start, end = _pair_of_units(source, target, field)
    if start is end:
        return Fraction(value)
    return (Fraction(value) * start.factor + start.offset - end.offset) / end.factor


def convert_difference(value: Exact, source: str, target: str, *, field: str = "unit") -> Fraction:
    """A difference in another unit, zero points left out: `convert_difference(9, "degF", "K")` is 5."""
    start, end = _pair_of_units(source, target, field)
    return Fraction(value) * start.factor / end.factor


def _pair_of_units(source: str, target: str, field: str) -> tuple[Unit, Unit]:
    end = unit_of(target, field=field)
    return require_dimension(source, end.dimension, field=field), end


@dataclass(frozen=True, slots=True)
class Quantity:
    """A value as written with its unit: `Quantity(Decimal("20.8"), "US gal")`."""

    value: Decimal
    unit: str

    def in_unit(self, target: str, *, field: str = "unit") -> Fraction:
        """The exact amount in another unit of the same dimension."""
        return convert(self.value, self.unit, target, field=field)

    def __str__(self) -> str:
        return f"{self.value:f} {unit_of(self.unit).label}".rstrip()


def parse_quantity(written: object, unit: str, *, field: str = "value") -> Quantity:
    """Value and unit checked and kept as written: `parse_quantity("20.80", "US gal")` keeps "20.80"."""
    return Quantity(parse_decimal(written, field=field), unit_of(unit, field=f"{field} unit").code)


def floor_decimal(value: Exact, places: int) -> Decimal:
    """Shown never larger than it is: `floor_decimal(Fraction(45916, 1000), 2)` is Decimal("45.91")."""
    number = math.floor(Fraction(value) * 10**places)
    return to_decimal(Fraction(number, 10**places), places, Rounding.EXACT)
