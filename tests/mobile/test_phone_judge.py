"""The phone's judge in Chromium: it answers every golden case as the server does, in figures and in words."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path
from typing import Any

from fleet.quantities import RefusedInput, parse_quantity
from records.judge.duty import PumpRun, duty_from_data, judge_duty
from records.judge.endurance import judge_dispatch_quantity, judge_endurance
from records.judge.normalise import normalise, run_time_from_data
from records.judge.tolerance import judge_written
from records.judge.weighing import density_table_from_data, volume_of, weighing_from_data
from records.mobile.units import UNITS_FILE, units_script

GOLDEN = Path(__file__).parents[2] / "fixtures" / "golden" / "verdicts.json"
CASES = json.loads(GOLDEN.read_text(encoding="utf-8"))["cases"]
EXACT = ("value", "margin", "acceptance_margin", "deviation_percent")


def exact(name: str, value: Any) -> Any:
    return Fraction(value) if name in EXACT and value is not None else value


def amount(data: dict[str, str]):
    return parse_quantity(data["value"], data["unit"])


def server_reason(case: dict[str, Any]) -> str | None:
    """The server's own words on a case; None where it refuses or has none."""
    try:
        match case["ask"]:
            case "limit":
                rule = case.get("decision_rule")
                return judge_written(case["readings"], case["limit"], decision_rule=rule).reason
            case "normalise":
                run_time = run_time_from_data(case["run_time"])
                return normalise(amount(case["reading"]), amount(case["took"]), run_time).reason
            case "duty":
                runs = [PumpRun(**run) for run in case["runs"]]
                return judge_duty(runs, duty_from_data(case["duty"])).reason
            case "weighing":
                table = density_table_from_data(case["density"])
                return volume_of(weighing_from_data(case["weighing"], table)).reason
            case "endurance":
                flows = [amount(flow) for flow in case["flows"]]
                return judge_endurance(amount(case["usable"]), flows, amount(case["required"])).reason
            case "dispatch":
                flows = [amount(flow) for flow in case["flows"]]
                return judge_dispatch_quantity(
                    amount(case["indicated"]), flows, amount(case["required"])
                ).reason
    except RefusedInput:
        return None
    return None


def test_the_phone_answers_every_golden_case_as_the_table_says(ask_scripts):
    answers = ask_scripts("ask_golden.js", CASES)
    assert len(answers) == len(CASES) >= 188
    wrong = {}
    for case, answer in zip(CASES, answers, strict=True):
        expected = {name: exact(name, value) for name, value in case["expect"].items()}
        got = {name: exact(name, answer.get(name)) for name in expected}
        if got != expected or not answer.get("explained", True):
            wrong[case["name"]] = answer
    assert wrong == {}


def test_the_phone_says_it_in_the_servers_words(ask_scripts):
    answers = ask_scripts("ask_golden.js", CASES)
    reasons = [(case, server_reason(case)) for case in CASES]
    spoken = [
        (case["name"], answer["reason"], reason)
        for (case, reason), answer in zip(reasons, answers, strict=True)
        if reason is not None
    ]
    assert len(spoken) > 100
    assert [each for each in spoken if each[1] != each[2]] == []


def test_the_phones_units_are_the_servers_units():
    remedy = "run manage.py write_phone_units"
    assert UNITS_FILE.read_text(encoding="utf-8") == units_script(), remedy
