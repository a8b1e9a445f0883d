"""Conformance probability and guard bands.

JCGM 106:2012 clause 7 (formula and textbook inputs from memory, values recomputed); ILAC-G8:09/2019 clause 4.2
(guard bands, text seen) and table 1 (multipliers, from memory, risks recomputed).
"""

from __future__ import annotations

import json
from decimal import Decimal
from fractions import Fraction

import pytest

from fleet.quantities import Quantity, RefusedInput
from records.judge.bench_run import judge_run
from records.judge.bench_run_data import definition_from_data, entries_from_data, run_verdict_to_data
from records.judge.terms import Outcome
from records.judge.tolerance import judge
from records.judge.uncertainty import (
    DecisionRule,
    RuleKind,
    conformance_probability,
    describe_rule,
    false_acceptance_risk,
    guard_band_from_standard,
    rule_from_data,
    rule_to_data,
)
from scheduling.limits.kinds import MinimumLimit, WindowLimit

pytestmark = pytest.mark.published


@pytest.mark.parametrize(
    ("low", "high", "y", "u", "probability"),
    [
        (500, None, 500, 5, 0.5000),
        (500, None, 505, 5, 0.8413),
        (500, None, 508, 5, 0.9452),
        (500, None, 510, 5, 0.9772),
        (500, None, 496, 5, 0.2119),
        (480, 540, 485, 5, 0.8413),
        (480, 540, 538, 4, 0.6915),
    ],
)
def test_conformance_probability_by_jcgm_106_clause_7(low, high, y, u, probability):
    assert round(conformance_probability(y, u, low, high), 4) == probability


def test_breakdown_voltage_example_of_jcgm_106():
    assert round(conformance_probability(-5.47, 0.05, None, -5.40), 3) == 0.919


def test_two_sided_example_of_jcgm_106_clause_7_4_as_quoted_in_public():
    assert round(conformance_probability(13.6, 1.8, 12.5, 16.3), 4) == 0.6626


@pytest.mark.parametrize("u", [0, -1, float("nan")])
def test_an_uncertainty_of_nothing_is_refused(u):
    with pytest.raises(RefusedInput):
        conformance_probability(500, u, 500, None)


@pytest.mark.parametrize(
    ("kind", "outcomes"),
    [
        (RuleKind.SIMPLE, ["pass", "pass", "fail", "fail"]),
        (RuleKind.GUARDED, ["fail", "pass", "fail", "fail"]),
        (RuleKind.GUARDED_FOUR, ["conditional_pass", "pass", "conditional_fail", "fail"]),
    ],
)
def test_acceptance_by_ilac_g8_clause_4_2_for_a_lower_limit_of_500_and_u_10(kind, outcomes):
    rule = DecisionRule(kind, Decimal(10), "mL")
    readings = [Quantity(Decimal(y), "mL") for y in (508, 510, 499, 489)]
    limit = MinimumLimit("mL", Decimal(500))
    assert [judge(reading, limit, decision_rule=rule).outcome.value for reading in readings] == outcomes


@pytest.mark.parametrize(
    ("multiplier", "risk"), [(3, 9.9e-10), (1.5, 0.00135), (1, 0.0228), (0.83, 0.0485), (0, 0.5)]
)
def test_false_acceptance_risk_by_ilac_g8_table_1(multiplier, risk):
    assert false_acceptance_risk(multiplier) == pytest.approx(risk, rel=5e-3)


def test_acceptance_limits_with_z_1_645_lie_at_1372_7_and_1677_3():
    # Worked with g = z·u of JCGM 106 clause 8: u 13.8, limits 1350 to 1700.
    band = guard_band_from_standard(Decimal("13.8"), Decimal("1.645"))
    assert band == Fraction("22.701")
    rule = DecisionRule(RuleKind.GUARDED_FOUR, Decimal("22.701"), "mL")
    limit = WindowLimit("mL", Decimal(1350), Decimal(1700))
    verdict = judge(Quantity(Decimal(1365), "mL"), limit, decision_rule=rule)
    assert verdict.outcome is Outcome.CONDITIONAL_PASS
    assert round(conformance_probability(1365, 13.8, 1350, 1700), 2) == 0.86
    for edge in ("1372.701", "1677.299"):
        assert judge(Quantity(Decimal(edge), "mL"), limit, decision_rule=rule).acceptance_margin == 0


def test_the_decision_rule_is_stored_with_the_result_as_iso_iec_17025_clause_7_8_6_asks():
    rule = {
        "kind": "guarded",
        "expanded_uncertainty": "10.0",
        "unit": "mL",
        "coverage_factor": "2",
        "multiplier": "1",
    }
    limit = {"kind": "minimum", "unit": "mL", "minimum": "500"}
    part = {"part": "point", "key": "left", "label": "Left", "limit": limit, "decision_rule": rule}
    definition = definition_from_data([part])
    verdict = judge_run(
        definition, entries_from_data({"left": {"readings": [{"value": "508", "unit": "mL"}]}})
    )
    stored = json.loads(json.dumps(run_verdict_to_data(verdict, definition)))["parts"][0]
    assert (stored["decision_rule"], stored["limit"], stored["outcome"]) == (rule, limit, "fail")
    assert (stored["margin"], stored["acceptance_margin"]) == ("8", "-2")
    assert rule_to_data(rule_from_data(rule)) == rule
    assert describe_rule(rule_from_data(rule)) == "guard band 1 × U, U = 10.0 mL (k = 2), pass or fail"
