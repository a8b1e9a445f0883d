"""Whole bench runs: preconditions, checks, duty, points and comparisons."""

from __future__ import annotations

import json

import pytest

from fleet.quantities import RefusedInput
from records.judge.bench_run import judge_run, worst
from records.judge.bench_run_data import (
    definition_from_data,
    definition_to_data,
    entries_from_data,
    run_verdict_to_data,
)
from records.judge.terms import Outcome

SIDE = {"kind": "nominal", "unit": "mL", "nominal": "1550", "plus": "600", "minus": "300"}
FIVE_MINUTES = {"specified": "5", "unit": "min", "max_deviation_percent": "10", "scale": True}
PAIR = {"kind": "pair_difference", "unit": "mL", "basis": "absolute", "maximum": "600"}
POWER = {"kind": "window", "unit": "V", "low": "27.5", "high": "28.5"}
PARTS = [
    {"part": "precondition", "key": "power", "label": "Ground power", "limit": POWER, "minimum_samples": 2},
    {"part": "check", "key": "wet", "label": "Outlets wet", "limit": {"kind": "all_yes", "expected": 2}},
    {
        "part": "duty",
        "key": "pump",
        "label": "Windshield pump",
        "limit": {"maximum_on": "10", "minimum_rest": "10", "unit": "s"},
    },
    {"part": "point", "key": "left", "label": "Left side", "limit": SIDE, "run_time": FIVE_MINUTES},
    {"part": "point", "key": "right", "label": "Right side", "limit": SIDE, "run_time": FIVE_MINUTES},
    {"part": "point", "key": "sides", "label": "Sides alike", "limit": PAIR, "of": ["left", "right"]},
]


def of(value, unit):
    return {"value": value, "unit": unit}


def side(millilitres, seconds="300"):
    return {"readings": [of(millilitres, "mL")], "run_time": of(seconds, "s")}


GOOD = {
    "power": {"readings": [of("27.9", "V"), of("28.5", "V")]},
    "wet": {"readings": [True, True]},
    "pump": {"runs": [{"start_ms": 0, "stop_ms": 10000}]},
    "left": side("1500"),
    "right": side("1600"),
}


def run(**changes):
    entries = entries_from_data({**GOOD, **changes})
    return judge_run(definition_from_data(PARTS), entries)


def test_a_run_with_everything_inside_passes():
    verdict = run()
    assert (verdict.outcome, verdict.measured) == (Outcome.PASS, Outcome.PASS)
    assert verdict.reason == "everything is inside its limits"
    assert verdict.part("sides").verdict.margin == 500


def test_low_voltage_makes_a_run_invalid_but_hides_no_failing_side():
    verdict = run(power={"readings": [of("28", "V"), of("27.4", "V")]}, left=side("1200"))
    assert (verdict.outcome, verdict.measured) == (Outcome.INVALID, Outcome.FAIL)
    assert [part.key for part in verdict.failed] == ["left"]
    assert "27.4 V is 0.1 V below" in verdict.reason
    assert "1200 mL is 50 mL below" in verdict.reason


def test_low_voltage_alone_is_invalid_and_nothing_has_failed():
    verdict = run(power={"readings": [of("28", "V"), of("27.4", "V")]})
    assert (verdict.outcome, verdict.measured, verdict.failed) == (Outcome.INVALID, Outcome.PASS, ())


def test_too_few_samples_of_a_precondition_leave_the_run_incomplete():
    verdict = run(power={"readings": [of("28", "V")]})
    assert (verdict.outcome, verdict.measured) == (Outcome.INCOMPLETE, Outcome.PASS)
    assert verdict.part("power").verdict.reason == "1 of 2 samples taken"


def test_a_run_with_nothing_entered_is_incomplete():
    verdict = judge_run(definition_from_data(PARTS), {})
    assert (verdict.outcome, verdict.measured) == (Outcome.INCOMPLETE, Outcome.INCOMPLETE)


def test_a_missing_side_leaves_the_comparison_incomplete_and_hides_no_failing_side():
    verdict = run(left={}, right=side("1200"))
    assert verdict.part("sides").verdict.outcome is Outcome.INCOMPLETE
    assert verdict.outcome is Outcome.FAIL


def test_sides_are_compared_after_bringing_both_to_the_specified_time():
    verdict = run(left=side("1300"), right=side("1900", "285"))
    assert verdict.part("right").verdict.value == 2000
    assert verdict.part("sides").verdict.margin == -100
    assert verdict.outcome is Outcome.FAIL


def test_a_run_time_too_far_off_makes_the_side_and_its_comparison_no_evidence():
    verdict = run(left=side("900", "200"))
    left = verdict.part("left")
    assert (left.verdict.outcome, left.measured) == (Outcome.INVALID, Outcome.PASS)
    assert verdict.part("sides").verdict.outcome is Outcome.INVALID
    assert verdict.outcome is Outcome.INVALID


def test_a_failing_side_stays_visible_when_its_run_time_is_too_far_off():
    verdict = run(left=side("600", "200"), right=side("1400"))
    assert (verdict.outcome, verdict.measured) == (Outcome.INVALID, Outcome.FAIL)
    assert [part.key for part in verdict.failed] == ["left"]


def test_a_reading_without_its_run_time_is_incomplete():
    verdict = run(left={"readings": [of("1500", "mL")]})
    assert verdict.part("left").verdict.reason == "the real run time is missing"
    assert verdict.outcome is Outcome.INCOMPLETE


def test_a_weighed_side_is_judged_like_a_measured_one():
    weighing = {
        "gross": of("2056.6", "g"),
        "tare": of("412.6", "g"),
        "temperature": of("20", "degC"),
        "density": [["15", "1.099"], ["20", "1.096"]],
    }
    verdict = run(left={"weighing": weighing, "run_time": of("300", "s")})
    left = verdict.part("left")
    assert left.verdict.value == 1500
    assert left.notes[0] == "2056.6 g − 412.6 g = 1644 g, 1.096 g/mL at 20 °C: 1500 mL"
    assert verdict.passes


@pytest.mark.parametrize(
    ("change", "code", "field"),
    [
        ({"middle": side("1")}, "unknown_point", "middle"),
        ({"left": {**side("1500"), "weighing": {}}}, "no_density", "left"),
        ({"left": side("-1")}, "negative_reading", "left"),
        ({"left": side("1500", "0")}, "bad_run_time", "left.run_time"),
        ({"left": {"readings": [of("1500", "g")], "run_time": of("300", "s")}}, "wrong_dimension", "left"),
        ({"left": {"reading": "1500"}}, "bad_entry", "left.reading"),
        ({"left": "1500"}, "bad_entry", "left"),
        ({"left": {"readings": [], "run_time": "300"}}, "bad_entry", "left.run_time"),
        ({"pump": {"runs": [{"start_ms": "0"}]}}, "bad_entry", "pump.runs.0"),
        ({"pump": {"runs": [{"start_ms": True}]}}, "bad_entry", "pump.runs.0"),
        ({"power": {"readings": [True]}}, "wrong_dimension", "power"),
    ],
)
def test_an_entry_that_cannot_be_judged_is_refused_naming_its_field(change, code, field):
    with pytest.raises(RefusedInput) as caught:
        run(**change)
    assert (caught.value.code, caught.value.reasons[0].field) == (code, field)


def test_a_point_both_read_and_weighed_is_refused():
    weighing = {
        "gross": of("2056.6", "g"),
        "tare": of("412.6", "g"),
        "temperature": of("20", "degC"),
        "density": [["20", "1.096"]],
    }
    with pytest.raises(RefusedInput) as caught:
        run(left={**side("1500"), "weighing": weighing})
    assert caught.value.code == "two_routes"


def test_a_definition_goes_back_to_the_data_it_came_from():
    assert definition_to_data(definition_from_data(PARTS)) == PARTS


@pytest.mark.parametrize(
    ("parts", "field"),
    [
        ([PARTS[3], PARTS[3]], "left.key"),
        ([PARTS[5]], "sides.of"),
        ([PARTS[0], {**PARTS[5], "of": ["power"]}], "sides.of"),
        ([{**PARTS[3], "part": "guess"}], "parts.0.part"),
        ([{**PARTS[3], "key": " "}], "parts.0.key"),
        ([{**PARTS[3], "colour": "red"}], "parts.0.colour"),
        ([{**PARTS[3], "limit": {**SIDE, "plus": "x"}}], "left.limit.plus"),
        ([{**PARTS[3], "run_time": {**FIVE_MINUTES, "unit": "mL"}}], "left.run_time.unit"),
        (
            [{**PARTS[2], "limit": {"maximum_on": "0", "minimum_rest": "10", "unit": "s"}}],
            "pump.limit.maximum_on",
        ),
        ({"parts": []}, "parts"),
    ],
)
def test_a_definition_that_makes_no_sense_is_refused_naming_its_field(parts, field):
    with pytest.raises(RefusedInput) as caught:
        definition_from_data(parts)
    assert caught.value.reasons[0].field == field


def test_a_stored_verdict_carries_the_limit_and_decision_rule_it_was_judged_by():
    definition = definition_from_data(PARTS)
    stored = json.loads(json.dumps(run_verdict_to_data(run(left=side("1250")), definition)))
    left = next(part for part in stored["parts"] if part["key"] == "left")
    assert left["limit"] == SIDE
    assert left["decision_rule"] == {"kind": "simple"}
    assert left["allowed"] == "1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)"
    assert (left["outcome"], left["margin"], left["amounts"]) == (
        "pass",
        "0",
        [{"value": "1250", "unit": "mL"}],
    )


@pytest.mark.parametrize(
    ("outcomes", "decides"),
    [
        ((Outcome.PASS, Outcome.INCOMPLETE, Outcome.FAIL), Outcome.FAIL),
        ((Outcome.PASS, Outcome.CONDITIONAL_PASS), Outcome.CONDITIONAL_PASS),
        ((Outcome.INVALID, Outcome.INCOMPLETE), Outcome.INVALID),
        ((), Outcome.INCOMPLETE),
    ],
)
def test_the_worst_outcome_decides(outcomes, decides):
    assert worst(outcomes) is decides
