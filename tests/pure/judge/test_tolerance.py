"""Verdicts: reasons, margins, and what may never flip."""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.quantities import Quantity, RefusedInput, exact_text
from records.judge.terms import Amount, Outcome, display_decimal
from records.judge.tolerance import judge, readings_from_data
from records.judge.uncertainty import DecisionRule, RuleKind
from scheduling.limits.kinds import Basis, MinimumLimit, NominalLimit, PairLimit, RatioLimit, WindowLimit

SIDE = NominalLimit("mL", Decimal(1550), Decimal(600), Decimal(300))
VOLUMES = ["mL", "L", "in3", "US gal", "US qt", "US pt", "US fl oz", "imp gal", "imp fl oz"]
tenths = st.integers(min_value=0, max_value=30_000).map(lambda number: Decimal(number).scaleb(-1))
amounts = st.fractions(min_value=0, max_value=4000, max_denominator=1000)


def quick(test):
    return settings(max_examples=150, deadline=None)(test)


def ml(written: str) -> Quantity:
    return Quantity(Decimal(written), "mL")


@quick
@given(value=amounts, unit=st.sampled_from(VOLUMES))
def test_a_verdict_and_its_margin_never_change_when_the_reading_is_given_in_another_unit(value, unit):
    first = judge(Amount(value, "mL"), SIDE)
    other = judge(Amount(Amount(value, "mL").in_unit(unit), unit), SIDE)
    assert (other.outcome, other.margin) == (first.outcome, first.margin)


@quick
@given(reading=tenths, unit=st.sampled_from(VOLUMES))
def test_a_reading_equal_to_its_limit_passes_in_every_unit(reading, unit):
    limit_ml = exact_text(Quantity(reading, unit).in_unit("mL"))
    verdict = judge(Quantity(reading, unit), MinimumLimit("mL", Decimal(limit_ml)))
    assert (verdict.outcome, verdict.margin) == (Outcome.PASS, 0)


@quick
@given(reading=tenths, limit=tenths, unit=st.sampled_from(VOLUMES))
def test_a_verdict_never_flips_when_reading_and_limit_move_to_another_unit_together(reading, limit, unit):
    as_given = judge(Quantity(reading, unit), MinimumLimit(unit, limit))
    limit_ml = Decimal(exact_text(Quantity(limit, unit).in_unit("mL")))
    moved = judge(Amount(Quantity(reading, unit).in_unit("mL"), "mL"), MinimumLimit("mL", limit_ml))
    assert moved.outcome is as_given.outcome
    assert moved.margin == Amount(as_given.margin, unit).in_unit("mL")


@quick
@given(left=tenths, right=tenths, basis=st.sampled_from(Basis), maximum=st.integers(0, 40))
def test_a_pair_is_judged_alike_whichever_side_comes_first(left, right, basis, maximum):
    nominal = Decimal(1550) if basis is Basis.OF_NOMINAL else None
    limit = PairLimit("mL", basis, Decimal(maximum), nominal)
    there = judge([Quantity(left, "mL"), Quantity(right, "mL")], limit)
    back = judge([Quantity(right, "mL"), Quantity(left, "mL")], limit)
    assert (there.outcome, there.margin) == (back.outcome, back.margin)


@quick
@given(value=tenths, low=st.integers(0, 1500), width=st.integers(0, 1500))
def test_the_sign_of_the_margin_agrees_with_the_outcome(value, low, width):
    verdict = judge(Quantity(value, "mL"), WindowLimit("mL", Decimal(low), Decimal(low + width)))
    assert verdict.passes == (verdict.margin >= 0) == (low <= value <= low + width)


@quick
@given(value=tenths, u_tenths=st.integers(1, 500))
def test_a_guard_band_only_ever_makes_a_verdict_stricter(value, u_tenths):
    limit = MinimumLimit("mL", Decimal(1350))
    rule = DecisionRule(RuleKind.GUARDED_FOUR, Decimal(u_tenths).scaleb(-1), "mL")
    simple, guarded = (
        judge(Quantity(value, "mL"), limit),
        judge(Quantity(value, "mL"), limit, decision_rule=rule),
    )
    allowed = {
        Outcome.PASS: {Outcome.PASS, Outcome.CONDITIONAL_PASS},
        Outcome.FAIL: {Outcome.FAIL, Outcome.CONDITIONAL_FAIL},
    }
    assert guarded.outcome in allowed[simple.outcome]
    assert guarded.margin == simple.margin
    assert guarded.acceptance_margin == simple.margin - Fraction(u_tenths, 10)


@quick
@given(value=amounts, larger=amounts.filter(lambda amount: amount > 0))
def test_a_ratio_is_exactly_smallest_by_largest(value, larger):
    low, high = sorted((value, larger))
    verdict = judge([Amount(high, "mL"), Amount(low, "mL")], RatioLimit("mL", Decimal("0.9")))
    assert verdict.passes == (10 * low >= 9 * high)
    assert verdict.margin == low / high - Fraction(9, 10)


@pytest.mark.parametrize(
    ("written", "reason"),
    [
        ("1349.6", "1349.6 mL is 0.4 mL below the lower limit of 1350 mL"),
        ("1350", "1350 mL is exactly at the lower limit of 1350 mL, which is allowed"),
        ("1400.50", "1400.50 mL is 50.5 mL above the lower limit of 1350 mL"),
    ],
)
def test_the_reason_shows_the_reading_as_written_and_its_distance(written, reason):
    assert judge(ml(written), MinimumLimit("mL", Decimal(1350))).reason == reason


def test_the_reason_shows_a_converted_reading_beside_the_written_one():
    verdict = judge(Quantity(Decimal("2.50"), "US qt"), SIDE)
    assert verdict.reason == (
        "2.50 US qt (2365.882 mL) is 215.882 mL above the upper limit of 2150 mL"
    )  # fmt: skip


def test_a_verdict_becomes_json_with_exact_numbers_as_text():
    data = judge(Amount(Fraction(4000, 3), "mL"), MinimumLimit("mL", Decimal(1350))).to_data()
    assert json.loads(json.dumps(data)) == {
        "outcome": "fail",
        "reason": "1333.333 mL is 16.667 mL below the lower limit of 1350 mL",
        "unit": "mL",
        "value": "4000/3",
        "margin": "-50/3",
        "margin_shown": "-16.667",
        "acceptance_margin": "-50/3",
        "nearest": "low",
        "nearest_limit": "1350",
    }


@pytest.mark.parametrize(
    ("value", "shown"),
    [(Fraction(-1, 30000), "-0.0000333"), (Fraction(0), "0"), (Fraction(2699, 2), "1349.5"),
     (Fraction(1, 10**12), "0.000000000001"), (Fraction(1300), "1300"), (Fraction(2, 3), "0.667")],
)  # fmt: skip
def test_what_is_not_zero_is_never_shown_as_zero(value, shown):
    assert format(display_decimal(value), "f") == shown


def test_a_guard_band_is_refused_where_it_has_no_meaning():
    rule = DecisionRule(RuleKind.GUARDED, Decimal(10), "mL")
    of_larger = PairLimit("mL", Basis.OF_LARGER, Decimal(10))
    for limit in (of_larger, RatioLimit("mL", Decimal("0.9"))):
        with pytest.raises(RefusedInput, match="simple acceptance"):
            judge([ml("1500"), ml("1400")], limit, decision_rule=rule)


@pytest.mark.parametrize(
    "data",
    ["1350", {"value": "1350"}, [{"value": "1350"}], [{"value": "1", "unit": 3}], [1350], [["1350", "mL"]]],
)
def test_readings_that_are_no_values_with_units_are_refused(data):
    with pytest.raises(RefusedInput) as caught:
        readings_from_data(data)
    assert caught.value.code == "bad_reading"


def test_a_float_reading_is_refused_because_it_is_not_what_was_written():
    with pytest.raises(RefusedInput) as caught:
        readings_from_data([{"value": 1349.6, "unit": "mL"}])
    assert caught.value.code == "not_exact"
    assert caught.value.reasons[0].field == "readings.0"
