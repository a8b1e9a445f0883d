"""Procedures in words, and what changed between two texts."""

from typing import Any

import pytest

from fleet.common.errors import Invalid
from scheduling.steps.compare import differences
from scheduling.steps.describe import point_words, step_words
from scheduling.steps.parse import procedure_from_data

VOLTS = {"kind": "nominal", "nominal": "28", "plus": "0.5", "minus": "0.5", "unit": "V"}
VOLUME = {"kind": "minimum", "minimum": "1000", "unit": "mL"}


USUAL: dict[str, Any] = {
    "purpose": "See that it works.",
    "cautions": ["Hot."],
    "equipment": [{"role": "meter", "kind": "voltmeter", "name": "Voltmeter"}],
    "points": [
        {"key": "bus", "name": "Bus voltage", "unit": "V", "limit": VOLTS, "role": "precondition"},
        {
            "key": "left",
            "name": "Left",
            "unit": "mL",
            "side": "left",
            "limit": VOLUME,
            "normalise": {"seconds": "300", "most_percent": "10"},
            "nominal": "1550",
            "trend": True,
        },
        {"key": "right", "name": "Right", "unit": "mL", "limit": VOLUME},
        {
            "key": "pair",
            "name": "Left against right",
            "unit": "mL",
            "of": ["left", "right"],
            "limit": {"kind": "pair_difference", "basis": "absolute", "maximum": "600", "unit": "mL"},
        },
    ],
    "steps": [
        {"key": "a", "kind": "set_control", "title": "Power", "control": "Ground power", "state": "ON"},
        {"key": "b", "kind": "read_value", "title": "Read", "point": "bus", "equipment_role": "meter"},
        {"key": "c", "kind": "timed_run", "title": "Run", "seconds": "300", "tolerance_seconds": "5"},
        {
            "key": "d",
            "kind": "duty_run",
            "title": "Spray",
            "runs": 3,
            "max_on_seconds": "10",
            "min_rest_seconds": "10",
            "when": {"options_all": ["windshield-spray"], "options_none": ["belly-pod"]},
        },
        {
            "key": "e",
            "kind": "outlets",
            "title": "Wet",
            "zones": ["wing", "tail"],
            "longest_seconds": "120",
        },
        {
            "key": "f",
            "kind": "collect",
            "title": "Collect",
            "points": {"left": "left", "right": "right"},
            "run_step": "c",
        },
    ],
}


def text(**values: Any) -> dict[str, Any]:
    return USUAL | values


def test_each_step_says_what_it_asks_for() -> None:
    steps = step_words(procedure_from_data(text()), {"windshield-spray": "Windshield spray"})
    assert [step.asks for step in steps] == [
        ("Ground power: ON",),
        ("Bus voltage: 28 V +0.5/−0.5 V (27.5 to 28.5 V, both allowed)", "With: Voltmeter"),
        ("Run for 300 s, ±5 s",),
        (
            "3 runs, at most 10 s on, at least 10 s rest",
            "A shorter rest does not count as rest: the time on goes on adding up",
        ),
        ("Every outlet of: wing, tail", "Wet within 120 s"),
        ("Left: Left: at least 1000 mL", "Right: Right: at least 1000 mL", "Collected during “Run”"),
    ]
    assert steps[3].applies == "only with Windshield spray and without belly pod"
    assert [step.number for step in steps] == [1, 2, 3, 4, 5, 6]


def test_each_point_says_its_limit_and_what_else_holds() -> None:
    points = point_words(procedure_from_data(text()))
    assert [(point.limit, point.role, point.more) for point in points] == [
        ("28 V +0.5/−0.5 V (27.5 to 28.5 V, both allowed)", "condition of a valid test", ""),
        (
            "at least 1000 mL",
            "result",
            "scaled to a run of 300 s, at most 10 % off; nominal 1550 mL; followed as a trend",
        ),
        ("at least 1000 mL", "result", ""),
        ("within 600 mL of each other", "result", "compares Left and Right"),
    ]


def test_the_same_text_has_no_differences() -> None:
    assert differences(procedure_from_data(text()), procedure_from_data(text())) == ()


def test_every_change_is_one_sentence() -> None:
    steps = [dict(step) for step in text()["steps"]]
    steps[0]["state"] = "OFF"
    steps[3]["when"] = {"options_all": ["windshield-spray"]}
    steps[4], steps[5] = steps[5], steps[4]
    new = text(
        purpose="See that it still works.",
        cautions=["Very hot."],
        equipment=[],
        fluid={"minimum": "20", "unit": "L"},
        steps=[{key: value for key, value in step.items() if key != "equipment_role"} for step in steps],
        follow_up_on_fail="flow-test-failed",
    )
    assert differences(procedure_from_data(text()), procedure_from_data(new)) == (
        "Purpose was “See that it works.”, is “See that it still works.”.",
        "Caution left out: “Hot.”.",
        "Caution added: “Very hot.”.",
        "Equipment left out: “Voltmeter”.",
        "Fluid was “none”, is “at least 20 L”.",
        "Step “Power”: state was “ON”, is “OFF”.",
        "Step “Read”: equipment was “meter”, is “none”.",
        "Step “Spray”: applies was “only with windshield spray and without belly pod”, "
        "is “only with windshield spray”.",
        "The order of the steps changed.",
        "Follow-up of a failed test was “none”, is “flow-test-failed”.",
    )


@pytest.mark.parametrize(
    "when",
    [{"options_all": "belly-pod"}, {"options_all": [3]}, {"with": ["x"]}, ["x"], {"options_none": [""]}],
)
def test_a_condition_of_another_form_is_refused(when: object) -> None:
    steps = [{"key": "a", "kind": "check", "title": "Look", "when": when}]
    with pytest.raises(Invalid) as refused:
        procedure_from_data({"purpose": "x", "steps": steps})
    assert [reason.field for reason in refused.value.reasons] == ["steps.0.when"]


def test_an_option_asked_for_and_barred_at_once_is_refused() -> None:
    when = {"options_all": ["belly-pod"], "options_none": ["belly-pod"]}
    with pytest.raises(Invalid, match="asked for and barred at once"):
        procedure_from_data(
            {"purpose": "x", "steps": [{"key": "a", "kind": "check", "title": "Look", "when": when}]}
        )
