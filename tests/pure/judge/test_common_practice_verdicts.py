"""Check values of the trade: common practice, no source."""

from __future__ import annotations

import pytest

from records.judge.duty import PumpRun, duty_from_data, judge_duty
from records.judge.precondition import judge_precondition
from records.judge.terms import Outcome
from records.judge.tolerance import judge_written, readings_from_data
from scheduling.limits.kinds import limit_from_data

pytestmark = pytest.mark.common_practice

PER_SIDE = {"kind": "nominal", "unit": "mL", "nominal": "1550", "plus": "600", "minus": "300"}
SIDES = {"kind": "pair_difference", "unit": "mL", "basis": "absolute", "maximum": "600"}
GROUND_POWER = {"kind": "nominal", "unit": "V", "nominal": "28", "plus": "0.5", "minus": "0.5"}
WINDSHIELD_PUMP = {"maximum_on": "10", "minimum_rest": "10", "unit": "s"}


def ml(*values):
    return [{"value": value, "unit": "mL"} for value in values]


@pytest.mark.parametrize(
    ("collected", "outcome"),
    [("1250", "pass"), ("1249", "fail"), ("1550", "pass"), ("2150", "pass"), ("2151", "fail")],
)
def test_one_side_collects_1550_ml_plus_600_minus_300_in_five_minutes(collected, outcome):
    assert judge_written(ml(collected), PER_SIDE).outcome == outcome


@pytest.mark.parametrize(
    ("left", "right", "outcome"),
    [("1300", "1900", "pass"), ("1900", "1300", "pass"), ("1300", "1901", "fail"), ("1500", "1500", "pass")],
)
def test_both_sides_lie_within_600_ml_of_each_other(left, right, outcome):
    assert judge_written(ml(left, right), SIDES).outcome == outcome


@pytest.mark.parametrize(
    ("volts", "outcome"),
    [
        (["27.5", "28.0", "28.5"], Outcome.PASS),
        (["28.0", "27.4"], Outcome.INVALID),
        (["28.6"], Outcome.INVALID),
        ([], Outcome.INCOMPLETE),
    ],
)
def test_ground_power_stays_at_28_v_plus_minus_half_a_volt(volts, outcome):
    samples = readings_from_data([{"value": each, "unit": "V"} for each in volts])
    assert judge_precondition(samples, limit_from_data(GROUND_POWER)).outcome is outcome


@pytest.mark.parametrize(
    ("runs", "outcome"),
    [
        ([(0, 10)], Outcome.PASS),
        ([(0, 11)], Outcome.FAIL),
        ([(0, 10), (20, 30)], Outcome.PASS),
        ([(0, 10), (19, 29)], Outcome.FAIL),
        ([(0, 5), (9, 14)], Outcome.PASS),
        ([(0, 5), (9, 15)], Outcome.FAIL),
    ],
)
def test_the_windshield_pump_runs_ten_seconds_at_most_and_rests_ten_at_least(runs, outcome):
    pump_runs = [PumpRun(start * 1000, stop * 1000) for start, stop in runs]
    assert judge_duty(pump_runs, duty_from_data(WINDSHIELD_PUMP)).outcome is outcome
