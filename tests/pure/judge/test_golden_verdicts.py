"""The golden table of verdicts, read by this program and by the phone."""

from __future__ import annotations

import json
from dataclasses import asdict
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from fleet.quantities import RefusedInput, parse_quantity
from records.judge.duty import PumpRun, duty_from_data, duty_state, judge_duty
from records.judge.endurance import judge_dispatch_quantity, judge_endurance
from records.judge.normalise import normalise, run_time_from_data
from records.judge.terms import Verdict
from records.judge.tolerance import judge_written
from records.judge.weighing import density_table_from_data, volume_of, weighing_from_data

GOLDEN = Path(__file__).parents[3] / "fixtures" / "golden" / "verdicts.json"
CASES = json.loads(GOLDEN.read_text(encoding="utf-8"))["cases"]
EXACT = ("value", "margin", "acceptance_margin", "deviation_percent")


def quantity(data: dict[str, str]):
    return parse_quantity(data["value"], data["unit"])


def of_verdict(verdict: Verdict) -> dict[str, Any]:
    return {**verdict.to_data(), "outcome": verdict.outcome.value}


def ask_limit(case):
    return of_verdict(judge_written(case["readings"], case["limit"], decision_rule=case.get("decision_rule")))


def ask_normalise(case):
    result = normalise(
        quantity(case["reading"]), quantity(case["took"]), run_time_from_data(case["run_time"])
    )
    return {
        "valid": result.valid,
        "value": result.amount.value,
        "deviation_percent": result.deviation_percent,
    }


def ask_duty(case):
    runs = [PumpRun(**run) for run in case["runs"]]
    return of_verdict(judge_duty(runs, duty_from_data(case["duty"])))


def ask_duty_state(case):
    runs = [PumpRun(**run) for run in case["runs"]]
    return asdict(duty_state(runs, duty_from_data(case["duty"]), case["now_ms"]))


def ask_weighing(case):
    table = density_table_from_data(case["density"])
    amount = volume_of(weighing_from_data(case["weighing"], table)).amount
    return {"value": amount.value, "unit": amount.unit}


def ask_endurance(case):
    flows = [quantity(flow) for flow in case["flows"]]
    return of_verdict(judge_endurance(quantity(case["usable"]), flows, quantity(case["required"])))


def ask_dispatch(case):
    flows = [quantity(flow) for flow in case["flows"]]
    return of_verdict(judge_dispatch_quantity(quantity(case["indicated"]), flows, quantity(case["required"])))


ASK = {
    "limit": ask_limit,
    "normalise": ask_normalise,
    "duty": ask_duty,
    "duty_state": ask_duty_state,
    "weighing": ask_weighing,
    "endurance": ask_endurance,
    "dispatch": ask_dispatch,
}


def answer(case):
    try:
        return ASK[case["ask"]](case)
    except RefusedInput as refusal:
        explained = all(reason.field and reason.remedy for reason in refusal.reasons) and bool(
            refusal.reasons
        )
        return {"outcome": "refused_input", "code": refusal.code, "explained": explained}


def exact(name, value):
    return Fraction(value) if name in EXACT and value is not None else value


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_answer_is_the_one_in_the_golden_table(case):
    expected = {name: exact(name, value) for name, value in case["expect"].items()}
    answered = answer(case)
    assert {name: exact(name, answered.get(name)) for name in expected} == expected
    assert answered.get("explained", True), "a refusal names its field and a remedy"


def test_the_golden_table_is_large_and_names_no_case_twice():
    names = [case["name"] for case in CASES]
    assert len(names) >= 80
    assert len(set(names)) == len(names)
    assert {case["ask"] for case in CASES} == set(ASK)
