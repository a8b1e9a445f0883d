"""EWMA and single readings on a fixed baseline: golden arithmetic, states, words, retests."""

import json
import math
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.quantities import RefusedInput
from records.judge.series import Observation, Segment
from records.judge.trend import average_deviation, confirm, judge_trend
from records.judge.trend_terms import (
    LEFT_AGAINST_RIGHT,
    ONE_CHANNEL,
    Rule,
    TrendSettings,
    TrendState,
    Watch,
)

START = date(2025, 1, 1)
BASELINE = [101.0, 99.0, 100.5, 99.5, 100.0, 100.0]


def segment_of(values, **fields) -> Segment[Observation]:
    days = [START + timedelta(days=30 * k) for k in range(len(values))]
    return Segment(
        tuple(
            Observation(day, value, reference=f"FT-{k}")
            for k, (day, value) in enumerate(zip(days, values, strict=True), 1)
        ),
        **fields,
    )


@pytest.mark.parametrize("tests", [0, 1, 5])
def test_below_six_valid_tests_the_baseline_is_forming_and_nothing_is_said(tests):
    verdict = judge_trend(segment_of([50.0] * tests), 1.5)
    assert verdict.state is TrendState.BASELINE_FORMING
    assert verdict.baseline is None
    assert verdict.points == ()
    assert f"{tests} of 6 valid tests" in verdict.words
    assert "No trend statement" in verdict.words


def test_invalid_tests_do_not_fill_the_baseline():
    tests = (*segment_of(BASELINE[:5]).observations, Observation(date(2026, 1, 1), 100.0, valid=False))
    assert judge_trend(Segment(tests), 1.5).state is TrendState.BASELINE_FORMING


def test_a_baseline_may_be_four_tests_but_not_three():
    settings = TrendSettings("flow", 2.75, 3.0, Watch.LOW, baseline_tests=4)
    assert judge_trend(segment_of([100.0] * 4), 1.5, settings).state is TrendState.IN_CONTROL
    with pytest.raises(RefusedInput, match="baseline_tests"):
        TrendSettings("flow", 2.75, 3.0, Watch.LOW, baseline_tests=3)


def test_scores_follow_the_arithmetic_line_by_line():
    verdict = judge_trend(segment_of([*BASELINE, 98.5, 97.0]), 1.5)
    first, second = verdict.points
    assert verdict.baseline == 100.0
    # z = -1, e = -0.2, variance 0.2^2 + 0.2^2/6
    assert first.single_score == pytest.approx(-1 / math.sqrt(7 / 6))
    assert first.average == pytest.approx(100 - 0.2 * 1.5)
    assert first.average_score == pytest.approx(-0.2 / math.sqrt(0.04 + 0.04 / 6))
    # z = -2, e = -0.56, variance (1/9)(1 - 0.8^4) + 0.36^2/6
    assert second.average == pytest.approx(100 - 0.56 * 1.5)
    assert second.average_score == pytest.approx(-0.56 / math.sqrt((1 - 0.4096) / 9 + 0.1296 / 6))
    assert second.average_low == pytest.approx(100 - 2.75 * 1.5 * math.sqrt((1 - 0.4096) / 9 + 0.1296 / 6))
    assert verdict.single_low == pytest.approx(100 - 3 * 1.5 * math.sqrt(7 / 6))
    assert verdict.state is TrendState.IN_CONTROL


@pytest.mark.parametrize(("value", "alarm"), [(95.5445, False), (95.5444, True)])
def test_the_first_test_after_the_baseline_alarms_just_beyond_2_75_of_its_average(value, alarm):
    # on the first test both scores are the same number, so the smaller limit decides: 2.75 x 1.5 x sqrt(7/6) = 4.4555
    assert 100 - 2.75 * 1.5 * math.sqrt(7 / 6) == pytest.approx(95.54449, abs=1e-5)
    assert judge_trend(segment_of([*BASELINE, value]), 1.5).in_alarm is alarm


def test_a_single_low_reading_later_is_named_as_the_reason():
    verdict = judge_trend(segment_of([*BASELINE, *[101.0] * 8, 94.0]), 1.5)
    assert verdict.state is TrendState.ALARM_LOW
    assert verdict.alarm is not None
    assert verdict.alarm.rule is Rule.SINGLE_READING
    assert verdict.alarm.reference == "FT-15"
    assert "its reading of 94.00 % is below the limit of 95.14 %" in verdict.words
    assert "FT-15" in verdict.words
    assert "baseline 100.00 %, repeatability 1.50 %" in verdict.words


def test_a_slow_fall_is_caught_by_the_average_before_any_single_reading():
    verdict = judge_trend(segment_of([*BASELINE, *[100 - 0.5 * k for k in range(12)]]), 1.5)
    assert verdict.alarm is not None
    assert verdict.alarm.rule is Rule.AVERAGE
    assert "the weighted average" in verdict.words


def test_a_rise_is_no_alarm_where_only_low_matters_and_one_where_both_do():
    values = [*BASELINE, 110.0, 110.0]
    assert judge_trend(segment_of(values), 1.5, ONE_CHANNEL).state is TrendState.IN_CONTROL
    assert judge_trend(segment_of(values), 1.5, LEFT_AGAINST_RIGHT).state is TrendState.ALARM_HIGH


def test_the_first_alarm_stands_though_later_tests_look_good():
    verdict = judge_trend(segment_of([*BASELINE, 90.0, *[101.0] * 10]), 1.5)
    assert verdict.state is TrendState.ALARM_LOW
    assert verdict.alarm is not None
    assert verdict.alarm.number == 1


def test_a_dismissed_alarm_no_longer_stands_but_its_point_stays_on_the_chart():
    values = [*BASELINE, 94.0, *[100.5] * 6]
    verdict = judge_trend(segment_of(values), 1.5, dismissed={"FT-7"})
    assert verdict.state is TrendState.IN_CONTROL
    assert verdict.points[0].value == 94.0
    assert verdict.points[0].is_alarm


def test_a_level_change_alarms_without_and_not_with_a_new_segment():
    before, after = segment_of(BASELINE), [96.0] * 12
    merged = judge_trend(segment_of([*BASELINE, *after]), 1.5)
    assert before.valid
    assert merged.state is TrendState.ALARM_LOW
    assert judge_trend(segment_of(after), 1.5).state is TrendState.IN_CONTROL


def test_a_baseline_test_that_stands_apart_is_flagged_and_kept():
    values = [100.0, 100.5, 99.5, 100.2, 99.8, 85.0]
    verdict = judge_trend(segment_of(values), 1.5)
    assert verdict.baseline == pytest.approx(97.5)
    assert len(verdict.suspects) == 1
    assert "FT-6" in verdict.suspects[0]
    assert "stands apart" in verdict.words


def test_the_segment_says_since_when_it_counts():
    verdict = judge_trend(segment_of(BASELINE, start=date(2024, 12, 30), reason="pump replaced"), 1.5)
    assert "counted since pump replaced on 30 Dec 2024" in verdict.words


@pytest.mark.parametrize("sigma", [0.0, -1.0, float("nan")])
def test_a_spread_that_is_not_above_zero_is_refused(sigma):
    with pytest.raises(RefusedInput, match="sigma"):
        judge_trend(segment_of(BASELINE), sigma)


def test_the_average_settles_at_its_long_run_deviation():
    assert average_deviation(200, ONE_CHANNEL) == pytest.approx(math.sqrt(1 / 9 + 1 / 6))


def test_a_verdict_turns_into_json_and_back():
    verdict = judge_trend(segment_of([*BASELINE, 90.0]), 1.5)
    plain = json.loads(json.dumps(verdict.to_dict(), allow_nan=False))
    assert plain["state"] == "alarm_low"
    assert plain["alarm"]["day"] == "2025-06-30"
    assert plain["points"][0]["rule"] == "both"
    assert plain["points"][0]["average_high"] is None
    assert plain["settings"]["channel"] == "flow"
    assert plain["words"] == verdict.words


def test_one_retest_far_enough_down_confirms_and_one_near_the_baseline_does_not():
    verdict = judge_trend(segment_of([*BASELINE, 92.0]), 1.5)
    # limit 1.645 x 1.5 x sqrt(1 + 1/6) = 2.6652
    assert confirm(verdict, [97.33]).confirmed
    assert not confirm(verdict, [97.34]).confirmed
    assert confirm(verdict, [95.0]).score == pytest.approx(5 / (1.5 * math.sqrt(7 / 6)))
    assert confirm(verdict, [95.0]).words.startswith("Alarm confirmed: 1 retest, mean 95.0 %")


def test_a_high_alarm_is_confirmed_from_above():
    verdict = judge_trend(segment_of([*BASELINE, 112.0]), 1.5, LEFT_AGAINST_RIGHT)
    assert confirm(verdict, [110.0, 111.0]).confirmed
    assert not confirm(verdict, [92.0]).confirmed


def test_nothing_can_be_confirmed_without_an_alarm_or_without_a_retest():
    with pytest.raises(RefusedInput, match="no alarm"):
        confirm(judge_trend(segment_of(BASELINE), 1.5), [90.0])
    with pytest.raises(RefusedInput, match="retests"):
        confirm(judge_trend(segment_of([*BASELINE, 90.0]), 1.5), [])


flows = st.lists(st.floats(80, 120), min_size=7, max_size=25)


@given(flows, st.floats(0.5, 3))
def test_scores_equal_the_formula_written_out_as_a_weighted_sum(values, sigma):
    verdict = judge_trend(segment_of(values), sigma)
    scores = [(value - math.fsum(values[:6]) / 6) / sigma for value in values[6:]]
    for k, point in enumerate(verdict.points, 1):
        average = sum(0.2 * 0.8 ** (k - i) * z for i, z in enumerate(scores[:k], 1))
        variance = 0.2 / 1.8 * (1 - 0.8 ** (2 * k)) + (1 - 0.8**k) ** 2 / 6
        assert point.average_score == pytest.approx(average / math.sqrt(variance), abs=1e-6)
        low = average / math.sqrt(variance) < -2.75 or scores[k - 1] / math.sqrt(7 / 6) < -3
        assert point.is_alarm is low


@given(flows, st.floats(1, 10))
def test_a_lower_last_reading_never_lifts_an_alarm(values, drop):
    before = judge_trend(segment_of(values), 1.5)
    after = judge_trend(segment_of([*values[:-1], values[-1] - drop]), 1.5)
    if len(values) > 6 and before.in_alarm:
        assert after.in_alarm


@given(flows)
def test_a_two_sided_channel_turned_upside_down_gives_the_mirrored_verdict(values):
    mirror = {TrendState.ALARM_LOW: TrendState.ALARM_HIGH, TrendState.ALARM_HIGH: TrendState.ALARM_LOW}
    state = judge_trend(segment_of(values), 1.5, LEFT_AGAINST_RIGHT).state
    turned = judge_trend(segment_of([-value for value in values]), 1.5, LEFT_AGAINST_RIGHT).state
    assert turned is mirror.get(state, state)
