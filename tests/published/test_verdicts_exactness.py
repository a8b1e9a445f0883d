"""Where binary floating point (IEEE 754) gets a verdict wrong, and ours does not."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pint
import pytest

from fleet.quantities import Quantity, exact_text
from records.judge.normalise import RunTime, normalise
from records.judge.terms import Outcome
from records.judge.tolerance import judge
from scheduling.limits.kinds import MaximumLimit, MinimumLimit, NominalLimit, RelativeLimit
from scheduling.limits.rounding import RoundingMethod

pytestmark = pytest.mark.published

FIVE_MINUTES = RunTime(Quantity(Decimal(300), "s"), Decimal(10))


def ml(written: str) -> Quantity:
    return Quantity(Decimal(written), "mL")


def test_ieee_754_misses_a_sum_of_tenths_that_the_verdict_meets():
    assert not (0.1 + 0.2 <= 0.3)
    limit = NominalLimit("mL", Decimal("0.1"), Decimal("0.2"), Decimal(0))
    assert judge(ml("0.3"), limit).outcome is Outcome.PASS


def test_every_sum_of_one_decimal_nominal_and_tolerance_is_met_exactly():
    wrong_in_floats = 0
    for nominal in range(0, 200, 3):
        for plus in range(0, 100, 3):
            limit = NominalLimit("mL", Decimal(nominal).scaleb(-1), Decimal(plus).scaleb(-1), Decimal(0))
            edge = Decimal(nominal + plus).scaleb(-1)
            assert judge(Quantity(edge, "mL"), limit).margin == 0
            wrong_in_floats += nominal / 10 + plus / 10 != (nominal + plus) / 10
    assert wrong_in_floats > 300


def test_thirteen_and_nine_per_cent_of_1500_are_whole_millilitres():
    assert 1500 * (1 + 13 / 100) == 1694.9999999999998
    assert 1500 * (1 + 9 / 100) == 1635.0000000000002
    for percent, edge in (("13", "1695"), ("9", "1635")):
        limit = RelativeLimit("mL", Decimal(1500), Decimal(percent), Decimal(0))
        assert judge(ml(edge), limit).margin == 0


def test_1001_ml_in_308_s_are_975_ml_in_five_minutes_and_pass_at_975():
    assert 1001 / (308 / 60) * 5 == 974.9999999999999
    normalised = normalise(ml("1001"), Quantity(Decimal(308), "s"), FIVE_MINUTES)
    assert normalised.amount.value == 975
    assert judge(normalised.amount, MinimumLimit("mL", Decimal(975))).outcome is Outcome.PASS


def test_every_run_that_scales_to_a_whole_millilitre_meets_that_limit_exactly():
    wrong_in_floats = 0
    for volume in range(1000, 2000):
        for seconds in range(270, 331):
            if (volume * 300) % seconds == 0:
                edge = volume * 300 // seconds
                result = normalise(ml(str(volume)), Quantity(Decimal(seconds), "s"), FIVE_MINUTES)
                assert result.amount.value == edge
                wrong_in_floats += volume / (seconds / 60) * 5 < edge
    assert wrong_in_floats > 10


def test_readings_equal_to_their_limit_pass_where_a_registry_of_floats_fails_them():
    registry = pint.UnitRegistry()
    names = {"US qt": "quart", "US fl oz": "fluid_ounce", "US pt": "pint"}
    wrong_in_floats = 0
    for unit, name in names.items():
        factor = registry.Quantity(1.0, name).to("milliliter").magnitude
        for tenths in range(1, 2001, 20):
            reading = Quantity(Decimal(tenths).scaleb(-1), unit)
            limit = Decimal(exact_text(reading.in_unit("mL")))
            assert judge(reading, MinimumLimit("mL", limit)).margin == 0
            wrong_in_floats += tenths / 10 * factor < float(limit)
    assert wrong_in_floats > 50


@pytest.mark.parametrize(
    ("written", "limit", "outcome", "compared"),
    [
        ("1349.6", MinimumLimit("mL", Decimal(1350), RoundingMethod.HALF_EVEN), Outcome.PASS, 1350),
        ("1350.5", MaximumLimit("mL", Decimal(1350), RoundingMethod.HALF_EVEN), Outcome.PASS, 1350),
        ("1351.5", MaximumLimit("mL", Decimal(1351), RoundingMethod.HALF_EVEN), Outcome.FAIL, 1352),
        ("1349.6", MinimumLimit("mL", Decimal(1350)), Outcome.FAIL, Fraction("1349.6")),
    ],
)
def test_rounding_method_and_absolute_method_of_astm_e29_from_memory(written, limit, outcome, compared):
    verdict = judge(ml(written), limit)
    assert (verdict.outcome, verdict.value) == (outcome, compared)
