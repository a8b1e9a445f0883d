"""What pages say and draw, without a database: answers in words, places on scales, sparks."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pytest

from fleet.quantities import Quantity
from records.judge.bench_run import Entry, Point, Precondition, RunDefinition, judge_run
from records.judge.bench_run_data import run_verdict_to_data
from records.screens.parts import part_views, told_apart
from records.screens.sparks import spark_of
from records.selectors.answer_words import answer_words, seconds_words
from records.templatetags.records_words import length_words
from scheduling.limits.kinds import AllYesLimit, MaximumLimit, MinimumLimit, NominalLimit, WindowLimit

NINE = datetime(2026, 1, 15, 9, 0, tzinfo=UTC)


def iso(seconds: float) -> str:
    return (NINE + timedelta(seconds=seconds)).isoformat()


@pytest.mark.parametrize(
    ("answer", "words"),
    [
        ({"done": True}, "done"),
        ({"done": False, "note": "no power"}, "not as asked: no power"),
        ({"value": "21.50", "unit": "degC"}, "21.50\u00a0°C"),
        ({"started_at": iso(0), "stopped_at": iso(241.27)}, "4\u00a0min 1.3\u00a0s, from 10:00:00 CET"),
        (
            {"runs": [{"on_at": iso(0), "off_at": iso(8)}, {"on_at": iso(20), "off_at": iso(29.5)}]},
            "2\u00a0runs: 8\u00a0s on, 12\u00a0s rest, 9.5\u00a0s on",
        ),
        (
            {"outlets": [{"position": "a", "wet": True, "seconds": "45"}, {"position": "b", "wet": False}]},
            "1 of 2\u00a0outlets wet, slowest a after 45\u00a0s; dry: b",
        ),
        (
            {
                "sides": {
                    "left": {"method": "volume", "value": "1480", "unit": "mL"},
                    "right": {
                        "method": "weighed",
                        "gross": "1885.0",
                        "tare": "250.0",
                        "unit": "g",
                        "celsius": "20",
                    },
                }
            },
            "left 1\u00a0480\u00a0mL; right 1\u00a0885.0\u00a0g gross, 250.0\u00a0g tare, 20\u00a0°C",
        ),
        ({"outlets": []}, "none on this aircraft"),
        ({"acknowledged": True}, "understood"),
        ({"photo_key": "x"}, "photograph kept"),
    ],
)
def test_an_answer_reads_as_what_was_entered(answer: dict[str, Any], words: str) -> None:
    assert answer_words(answer, "Europe/Oslo") == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        ("0.5", "0.5\u00a0s"),
        ("8", "8\u00a0s"),
        ("240", "4\u00a0min 0\u00a0s"),
        ("95.04", "1\u00a0min 35\u00a0s"),
    ],
)
def test_a_length_of_time_is_said_to_the_tenth_of_a_second(seconds: str, words: str) -> None:
    assert seconds_words(Decimal(seconds)) == words


def test_a_round_length_says_no_seconds() -> None:
    assert length_words(Decimal(240)) == "4\u00a0min"
    assert length_words(Decimal(0)) == "0\u00a0s"


def judged(limit: Any, value: str, unit: str) -> Any:
    definition = RunDefinition((Point("p", "Reading", limit),))
    verdict = judge_run(definition, {"p": Entry(readings=(Quantity(Decimal(value), unit),))})
    data: dict[str, Any] = run_verdict_to_data(verdict, definition)
    return part_views(data["parts"])[0]


def test_the_middle_of_a_window_stands_in_the_middle_of_its_scale() -> None:
    part = judged(WindowLimit("V", Decimal(27), Decimal(29)), "28", "V")
    assert part.scale is not None
    assert part.scale.reading == "50.00%"
    assert (part.scale.low_words, part.scale.high_words) == ("27", "29")
    assert (part.outcome, part.level, part.margin) == ("PASS", "clear", "1\u00a0V inside")


def test_a_reading_far_outside_stays_on_the_scale_and_says_how_far() -> None:
    part = judged(NominalLimit("mL", Decimal(1500), Decimal(450), Decimal(250)), "200", "mL")
    assert part.scale is not None
    assert part.scale.reading == "2.00%"
    assert float(part.scale.low.rstrip("%")) > 2
    assert (part.outcome, part.level, part.margin) == ("FAIL", "stop", "1\u00a0050\u00a0mL outside")


@pytest.mark.parametrize(
    ("limit", "low", "high"),
    [
        (MaximumLimit("s", Decimal(300)), "", "300"),
        (MinimumLimit("mL", Decimal(1350)), "1\u00a0350", ""),
    ],
)
def test_an_open_end_has_no_mark(limit: Any, low: str, high: str) -> None:
    part = judged(limit, (limit.unit == "s" and "45") or "1400", limit.unit)
    assert part.scale is not None
    assert (part.scale.low_words, part.scale.high_words) == (low, high)


def test_on_the_limit_is_said_to_be_exactly_there() -> None:
    assert judged(MaximumLimit("s", Decimal(300)), "300", "s").margin == "exactly on the limit"


def test_plain_answers_are_told_apart_from_what_was_measured() -> None:
    volts = WindowLimit("V", Decimal(27), Decimal(29))
    definition = RunDefinition(
        (
            Point("a", "Sheets fitted", AllYesLimit(1)),
            Point("b", "Floor clean", AllYesLimit(1)),
            Precondition("c", "Voltage", volts),
        )
    )
    entries = {
        "a": Entry(readings=(True,)),
        "b": Entry(readings=(False,)),
        "c": Entry(readings=(Quantity(Decimal(28), "V"),)),
    }
    data: dict[str, Any] = run_verdict_to_data(judge_run(definition, entries), definition)
    shown, plain = told_apart(part_views(data["parts"]))
    assert [part.label for part in shown] == ["Floor clean", "Voltage"]
    assert [part.label for part in plain] == ["Sheets fitted"]


def test_a_spark_draws_nothing_while_its_baseline_forms() -> None:
    assert spark_of(None) is None
    assert spark_of({"baseline": None, "points": [{"value": 1.0}, {"value": 2.0}]}) is None


def test_a_spark_runs_from_edge_to_edge_between_its_limits() -> None:
    verdict = {
        "baseline": 100.0,
        "single_low": 96.0,
        "single_high": None,
        "points": [{"value": 100.0}, {"value": 98.0}, {"value": 96.0}],
    }
    spark = spark_of(verdict)
    assert spark is not None
    assert spark.line == "8.0,8.0 150.0,32.0 292.0,56.0"
    assert (spark.baseline, spark.limits) == ("8.0", ("56.0",))
