"""Weighing and endurance: what is refused, and how a result is told."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.quantities import Quantity, RefusedInput, to_decimal
from records.judge.endurance import endurance_minutes, judge_dispatch_quantity, judge_endurance
from records.judge.terms import Outcome
from records.judge.weighing import (
    Buoyancy,
    Weighing,
    density_table,
    density_table_from_data,
    volume_of,
    weighing_from_data,
)

TABLE = density_table([(Decimal(20), Decimal("1.096")), (Decimal(10), Decimal("1.102"))])


def of(value: str, unit: str) -> Quantity:
    return Quantity(Decimal(value), unit)


def test_rows_are_put_in_order_of_temperature():
    assert TABLE.rows == ((Decimal(10), Decimal("1.102")), (Decimal(20), Decimal("1.096")))


@settings(max_examples=100, deadline=None)
@given(hundredths=st.integers(1000, 2000))
def test_density_between_two_rows_lies_on_the_straight_line(hundredths):
    celsius = Decimal(hundredths).scaleb(-2)
    assert TABLE.at(Quantity(celsius, "degC")) == Fraction("1.102") - Fraction("0.0006") * (
        Fraction(celsius) - 10
    )


@pytest.mark.parametrize("celsius", ["9.99", "20.01", "-40", "100"])
def test_no_density_is_guessed_outside_the_table(celsius):
    with pytest.raises(RefusedInput) as caught:
        TABLE.at(of(celsius, "degC"))
    assert caught.value.code == "temperature_outside_table"
    assert "10 to 20 °C" in str(caught.value)


def test_a_table_of_one_row_holds_at_its_own_temperature_only():
    table = density_table([(Decimal(20), Decimal("1.096"))])
    assert table.at(of("68", "degF")) == Fraction("1.096")
    with pytest.raises(RefusedInput):
        table.at(of("20.1", "degC"))


@pytest.mark.parametrize(
    "rows", [[], [["20", "0"]], [["20", "-1"]], [["20", "1.1"], ["20", "1.1"]], [["20"]], "20", [["20", "x"]]]
)
def test_a_density_table_that_makes_no_sense_is_refused(rows):
    with pytest.raises(RefusedInput):
        density_table_from_data(rows)


def test_every_missing_field_of_a_weighing_is_reported_at_once():
    with pytest.raises(RefusedInput) as caught:
        weighing_from_data({"gross": {"value": "1,5", "unit": "kg"}, "buoyancy": "yes"}, TABLE, where="left")
    assert [reason.field for reason in caught.value.reasons] == [
        "left.buoyancy",
        "left.gross",
        "left.tare",
        "left.temperature",
    ]


def test_a_volume_of_air_makes_the_fluid_seem_lighter():
    plain = volume_of(Weighing(of("1508.6", "g"), of("412.6", "g"), of("20", "degC"), TABLE))
    in_air = volume_of(Weighing(of("1508.6", "g"), of("412.6", "g"), of("20", "degC"), TABLE, Buoyancy()))
    assert plain.amount.value == 1000
    assert in_air.amount.value > 1000
    assert "corrected for the buoyancy of air" in in_air.reason
    assert "buoyancy" not in plain.reason


def test_a_negative_mass_is_refused():
    with pytest.raises(RefusedInput, match="zero the balance"):
        volume_of(Weighing(of("5", "g"), of("-1", "g"), of("20", "degC"), TABLE))


def test_endurance_is_shown_rounded_down_and_decided_unrounded():
    verdict = judge_endurance(of("44.999", "L"), [of("1", "L/min")], of("45", "min"))
    assert verdict.outcome is Outcome.FAIL
    assert verdict.reason == "44.999 L lasts 44.99 min; 45 min required"


def test_a_guard_on_the_flow_shortens_the_endurance():
    assert endurance_minutes(of("27", "L"), [of("600", "mL/min")], guard_percent=Decimal(5)) == Fraction(
        300, 7
    )


def test_enough_on_board_may_be_indicated_in_another_unit():
    verdict = judge_dispatch_quantity(of("6.5", "US gal"), [of("16.0", "L/h")], of("1.5", "h"))
    assert (verdict.outcome, verdict.margin) == (Outcome.PASS, Fraction("0.605176596"))


@pytest.mark.parametrize(
    ("usable", "flow", "required", "code"),
    [
        (("-1", "L"), ("600", "mL/min"), ("45", "min"), "negative_reading"),
        (("27", "L"), ("-600", "mL/min"), ("45", "min"), "negative_reading"),
        (("27", "L"), ("0", "mL/min"), ("45", "min"), "no_flow"),
        (("27", "L"), ("600", "mL/min"), ("0", "min"), "bad_required_time"),
        (("27", "kg"), ("600", "mL/min"), ("45", "min"), "wrong_dimension"),
        (("27", "L"), ("600", "mL"), ("45", "min"), "wrong_dimension"),
    ],
)
def test_endurance_of_what_makes_no_sense_is_refused(usable, flow, required, code):
    with pytest.raises(RefusedInput) as caught:
        judge_endurance(of(*usable), [of(*flow)], of(*required))
    assert caught.value.code == code


def test_a_negative_guard_would_promise_too_much_and_is_refused():
    with pytest.raises(RefusedInput):
        endurance_minutes(of("27", "L"), [of("600", "mL/min")], guard_percent=Decimal(-1))


def test_a_fluid_of_1_096_g_per_ml_weighs_1096_g_per_litre():
    table = density_table([(Decimal(20), Decimal("1.096"))])
    weighing = Weighing(of("1508.6", "g"), of("412.6", "g"), of("20", "degC"), table)
    assert volume_of(weighing).amount.value == 1000
    in_air = volume_of(Weighing(of("1508.6", "g"), of("412.6", "g"), of("20", "degC"), table, Buoyancy()))
    assert str(to_decimal(in_air.amount.value, 2)) == "1000.95"


def test_873_6_g_at_1_100_g_per_ml_in_240_s_are_198_55_ml_per_minute():
    table = density_table([(Decimal(20), Decimal("1.100"))])
    volume = volume_of(Weighing(of("873.6", "g"), of("0", "g"), of("20", "degC"), table)).amount.value
    assert str(to_decimal(volume, 2)) == "794.18"
    assert str(to_decimal(volume / 4, 2)) == "198.55"


def test_seven_us_gallons_last_45_916_minutes_at_577_1_ml_per_minute():
    usable, required = Quantity(Decimal(7), "US gal"), Quantity(Decimal(45), "min")
    slow, fast = Quantity(Decimal("577.1"), "mL/min"), Quantity(Decimal(600), "mL/min")
    assert round(float(endurance_minutes(usable, [slow])), 3) == 45.916
    assert judge_endurance(usable, [slow], required).outcome is Outcome.PASS
    assert round(float(endurance_minutes(usable, [fast])), 3) == 44.163
    assert judge_endurance(usable, [fast], required).outcome is Outcome.FAIL
