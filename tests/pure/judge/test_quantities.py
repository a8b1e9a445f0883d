"""Hours, decimals and units as exact values."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.common.wording import hours
from fleet.quantities import (
    UNITS,
    Dimension,
    Quantity,
    RefusedInput,
    Rounding,
    convert,
    convert_difference,
    exact_text,
    floor_decimal,
    format_minutes,
    parse_decimal,
    parse_hours,
    parse_quantity,
    plain_number,
    to_decimal,
    unit_of,
    whole_number,
)

# What an independent registry calls the units of our table.
PINT_NAMES = {
    "mL": "milliliter", "L": "liter", "in3": "inch**3", "US gal": "gallon", "US qt": "quart", "US pt": "pint",
    "US fl oz": "fluid_ounce", "imp gal": "imperial_gallon", "imp fl oz": "imperial_fluid_ounce", "g": "gram",
    "kg": "kilogram", "lb": "pound", "V": "volt", "mV": "millivolt", "s": "second", "min": "minute", "h": "hour",
    "Pa": "pascal", "hPa": "hectopascal", "kPa": "kilopascal", "bar": "bar", "psi": "psi",
    "mL/min": "milliliter/minute", "L/min": "liter/minute", "L/h": "liter/hour", "US gal/h": "gallon/hour",
    "g/mL": "gram/milliliter", "kg/L": "kilogram/liter", "kg/m3": "kilogram/meter**3",
    "lb/US gal": "pound/gallon",
}  # fmt: skip


@pytest.mark.parametrize(
    ("written", "minutes"),
    [("1304:30", 78270), ("1304.5", 78270), ("0", 0), ("0:00", 0), ("0:59", 59), ("1304.55", 78273), (" 7:05 ", 425),
     (12, 720), (Decimal("1.25"), 75), ("1304.1", 78246), ("00012:30", 750), ("1 304:30 h", 78270),
     ("1\u00a0304:30\u00a0h", 78270)],
)  # fmt: skip
def test_hours_become_whole_minutes(written, minutes):
    assert parse_hours(written) == minutes


@pytest.mark.parametrize(
    ("written", "number"),
    [("12", 12), (" 7 ", 7), (0, 0), ("", None), ("-1", None), ("1.0", None), ("²", None), ("٣", None), (None, None),
     ("9" * 15, 999_999_999_999_999), ("1" * 16, None), ("1" * 5_000, None)],
)  # fmt: skip
def test_a_count_or_key_from_a_page_is_a_plain_number_or_none(written, number):
    assert plain_number(written) == number


@pytest.mark.parametrize(
    ("written", "code"),
    [("1304.33", "not_whole_minutes"), ("13:60", "not_hours"), ("13:5", "not_hours"), ("-1:00", "not_hours"),
     ("1:30.5", "not_hours"), ("-1.5", "negative_hours"), ("", "not_a_number"), ("12,5", "not_a_number"),
     ("13 04:30", "not_hours"), ("99999999:00", "not_hours"), ("99999999", "too_many_digits"),
     (None, "not_exact"), (1304.5, "not_exact"),
     (True, "not_exact")],
)  # fmt: skip
def test_hours_that_are_unclear_are_refused_with_a_remedy(written, code):
    with pytest.raises(RefusedInput) as caught:
        parse_hours(written, field="total")
    assert caught.value.code == code
    assert caught.value.reasons[0].field == "total"
    assert caught.value.reasons[0].remedy


@pytest.mark.parametrize(
    ("rule", "minutes"),
    [(Rounding.HALF_UP, 78260), (Rounding.HALF_EVEN, 78260), (Rounding.DOWN, 78259), (Rounding.UP, 78260)],
)
def test_hours_are_rounded_only_by_a_stated_rule(rule, minutes):
    assert parse_hours("1304.33", rounding=rule) == minutes


@pytest.mark.parametrize(
    ("minutes", "words"), [(78270, "1304:30"), (0, "0:00"), (5, "0:05"), (-30, "-0:30"), (-61, "-1:01")]
)
def test_minutes_are_written_as_hours_and_minutes(minutes, words):
    assert format_minutes(minutes) == words


@settings(max_examples=100, deadline=None)
@given(minutes=st.integers(0, 10**8))
def test_hours_written_and_read_again_are_the_same_minutes(minutes):
    assert parse_hours(format_minutes(minutes)) == minutes
    assert parse_hours(hours(minutes)) == minutes


@settings(max_examples=200, deadline=None)
@given(
    value=st.fractions(min_value=-1000, max_value=1000, max_denominator=200),
    rule=st.sampled_from([Rounding.HALF_EVEN, Rounding.HALF_UP, Rounding.DOWN, Rounding.UP]),
)
def test_rounding_agrees_with_the_decimal_module(value, rule):
    twentieths = Fraction(round(value * 20), 20)
    written = Decimal(twentieths.numerator) / Decimal(twentieths.denominator)
    assert whole_number(twentieths, rule) == int(written.to_integral_value(f"ROUND_{rule.name}"))


def test_a_decimal_keeps_the_zeros_it_was_written_with():
    assert str(parse_decimal("1350.50")) == "1350.50"
    assert str(parse_quantity("20.80", "US gal")) == "20.80 US gal"


def test_a_monstrous_number_is_refused_and_costs_nothing():
    for number in (10**6000, Decimal("1E+999999"), Decimal("1E-999999"), "9" * 5000):
        with pytest.raises(RefusedInput):
            parse_decimal(number)


def test_display_never_rounds_up_where_it_says_floor():
    assert str(floor_decimal(Fraction(45_916, 1000), 2)) == "45.91"
    assert str(to_decimal(Fraction(-1, 8), 2)) == "-0.12"


@pytest.mark.parametrize(
    ("value", "words"),
    [(Fraction(1, 3), "1/3"), (Fraction(-45, 2), "-22.5"), (Fraction(7), "7"), (Fraction(1, 40), "0.025")],
)
def test_exact_text_loses_nothing(value, words):
    assert exact_text(value) == words
    assert Fraction(exact_text(value)) == value


@settings(max_examples=200, deadline=None)
@given(
    value=st.decimals(-1000, 1000, places=3),
    source=st.sampled_from(sorted(UNITS)),
    target=st.sampled_from(sorted(UNITS)),
)
def test_conversion_there_and_back_is_exact_within_a_dimension_and_refused_across(value, source, target):
    if UNITS[source].dimension is UNITS[target].dimension:
        assert convert(convert(value, source, target), target, source) == Fraction(value)
    else:
        with pytest.raises(RefusedInput, match="is wanted"):
            convert(value, source, target)


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry(non_int_type=Fraction)


@pytest.mark.parametrize(("code", "name"), PINT_NAMES.items())
def test_the_table_of_factors_agrees_with_an_independent_registry(code, name, registry):
    base = {Dimension.FLOW: "milliliter/second", Dimension.DENSITY: "gram/milliliter", Dimension.VOLUME: "milliliter",
            Dimension.MASS: "gram", Dimension.VOLTAGE: "volt", Dimension.TIME: "second",
            Dimension.PRESSURE: "pascal"}[UNITS[code].dimension]  # fmt: skip
    factor = registry.Quantity(Fraction(1), name).to(base).magnitude
    assert factor == UNITS[code].factor


def test_a_difference_of_temperature_leaves_the_zero_points_out():
    assert convert_difference(9, "degF", "K") == 5
    assert convert(Decimal(9), "degF", "degC") == Fraction(-115, 9)


@pytest.mark.parametrize(
    "code", ["oz", "gal", "fl oz", "FL OZ", "Gal", " oz ", "pt", "qt", "cups", "ML", "mmHg"]
)
def test_a_unit_that_could_mean_two_things_or_nothing_is_refused(code):
    with pytest.raises(RefusedInput) as caught:
        unit_of(code, field="reading unit")
    assert caught.value.reasons[0].field == "reading unit"
    assert caught.value.code == ("unknown_unit" if code in ("cups", "ML", "mmHg") else "ambiguous_unit")


def test_a_quantity_is_its_exact_amount_in_any_unit_of_its_dimension():
    assert Quantity(Decimal("0.5"), "min").in_unit("s") == 30
    assert unit_of("°C") is unit_of("degC")
