"""Unit factors and conversions of NIST Special Publication 811 (2008), appendix B."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest

from fleet.quantities import Quantity, convert, to_decimal, unit_of

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("unit", "millilitres"),
    [
        ("US gal", "3785.411784"),
        ("US qt", "946.352946"),
        ("US pt", "473.176473"),
        ("US fl oz", "29.5735295625"),
        ("imp gal", "4546.09"),
        ("imp fl oz", "28.4130625"),
        ("in3", "16.387064"),
    ],
)
def test_volume_factors_are_the_exact_ones_of_nist_sp_811(unit, millilitres):
    assert unit_of(unit).factor == Fraction(millilitres)


def test_a_us_gallon_is_231_cubic_inches_of_25_4_mm():
    assert convert(1, "US gal", "in3") == 231
    assert unit_of("in3").factor == Fraction("2.54") ** 3


def test_a_pound_is_0_45359237_kg_exactly():
    assert convert(1, "lb", "kg") == Fraction("0.45359237")


def test_a_pound_per_square_inch_is_6894_757293168_pa():
    assert to_decimal(convert(1, "psi", "Pa"), 9) == Decimal("6894.757293168")


def test_a_conventional_inch_of_mercury_is_3386_389_pa():
    assert convert(1, "inHg", "Pa") == Fraction("3386.389")


def test_a_pound_per_us_gallon_is_0_119826427_kg_per_litre():
    assert to_decimal(convert(1, "lb/US gal", "kg/L"), 9) == Decimal("0.119826427")


@pytest.mark.parametrize(
    ("written", "source", "target", "places", "expected"),
    [
        ("20.8", "US gal", "L", 10, "78.7365651072"),
        ("20.8", "US gal", "L", 3, "78.737"),
        ("2.5", "US qt", "L", 9, "2.365882365"),
        ("5.0", "L", "US gal", 5, "1.32086"),
        ("35", "psi", "kPa", 3, "241.317"),
        ("35", "psi", "bar", 5, "2.41317"),
        ("100", "psi", "kPa", 3, "689.476"),
        ("29.92", "inHg", "hPa", 2, "1013.21"),
        ("59", "degF", "degC", 1, "15.0"),
        ("-40", "degF", "degC", 1, "-40.0"),
    ],
)
def test_a_conversion_gives_the_figure_of_nist_sp_811_factors(written, source, target, places, expected):
    converted = Quantity(Decimal(written), source).in_unit(target)
    assert str(to_decimal(converted, places)) == expected


def test_us_and_imperial_fluid_ounces_differ_by_4_per_cent():
    assert to_decimal(convert(1, "US fl oz", "imp fl oz"), 4) == Decimal("1.0408")
