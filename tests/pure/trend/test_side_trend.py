"""Two channels of an aircraft: both sides together, and left against right."""

import json
import math
from datetime import date, timedelta

import pytest

from fleet.quantities import RefusedInput
from records.judge.series import Segment, SidePair
from records.judge.side_trend import (
    SideBaseline,
    balance_percent,
    judge_sides,
    side_baseline,
    together_percent,
)
from records.judge.trend_terms import TrendState

DAY = date(2026, 1, 1)


def segment_of(pairs) -> Segment[SidePair]:
    return Segment(
        tuple(
            SidePair(DAY + timedelta(days=30 * k), left, right, reference=f"FT-{k}")
            for k, (left, right) in enumerate(pairs, 1)
        )
    )


BASE = [(98.0, 102.0)] * 6


def test_channels_are_relative_to_the_sides_own_baselines():
    baseline = side_baseline(segment_of(BASE).valid)
    assert baseline == SideBaseline(98.0, 102.0, 6)
    pair = SidePair(DAY, 88.2, 102.0)
    assert together_percent(pair, baseline) == pytest.approx(95.1)
    assert balance_percent(pair, baseline) == pytest.approx(100 * math.log(0.9))
    assert balance_percent(SidePair(DAY, 98.0, 102.0), baseline) == 0


def test_a_weak_pump_moves_only_both_sides_together():
    trend = judge_sides(segment_of([*BASE, (83.3, 86.7)]), 1.5)
    assert trend.together.state is TrendState.ALARM_LOW
    assert trend.balance.state is TrendState.IN_CONTROL
    assert trend.state is TrendState.ALARM_LOW
    assert trend.words.startswith("Both sides together, alarm (low)")


@pytest.mark.parametrize(
    ("pair", "state", "says"),
    [
        ((88.2, 112.2), TrendState.ALARM_LOW, "left low against right"),
        ((107.8, 91.8), TrendState.ALARM_HIGH, "right low against left"),
    ],
)
def test_a_clogging_side_moves_only_the_balance(pair, state, says):
    trend = judge_sides(segment_of([*BASE, pair]), 1.5)
    assert trend.together.state is TrendState.IN_CONTROL
    assert trend.balance.state is state
    assert trend.state is state
    assert says in trend.words


def test_limits_are_3_0_for_the_average_and_3_3_for_a_single_reading():
    # on the first test both scores agree, so 3.0 decides: S may fall by 3.0 x 1.5/sqrt2 x sqrt(7/6) = 3.4369 %
    assert not judge_sides(segment_of([*BASE, (98 * 0.96564, 102 * 0.96564)]), 1.5).together.in_alarm
    assert judge_sides(segment_of([*BASE, (98 * 0.96562, 102 * 0.96562)]), 1.5).together.in_alarm
    # and D may move by 3.0 x 1.5 x sqrt2 x sqrt(7/6) = 6.8739
    inside, outside = math.exp(-0.068737), math.exp(-0.068741)
    assert not judge_sides(segment_of([*BASE, (98 * inside, 102.0)]), 1.5).balance.in_alarm
    assert judge_sides(segment_of([*BASE, (98 * outside, 102.0)]), 1.5).balance.in_alarm


def test_a_dry_side_is_an_alarm_and_not_an_error():
    trend = judge_sides(segment_of([*BASE, (0.0, 150.0)]), 1.5)
    assert trend.balance.state is TrendState.ALARM_LOW


def test_both_channels_form_their_baseline_together():
    trend = judge_sides(segment_of(BASE[:5]), 1.5)
    assert trend.state is TrendState.BASELINE_FORMING
    assert trend.baseline is None
    assert trend.alarm is None


def test_the_earlier_alarm_of_the_two_gives_the_state():
    trend = judge_sides(segment_of([*BASE, (107.8, 91.8), (80.0, 80.0)]), 1.5)
    assert trend.together.in_alarm
    assert trend.state is TrendState.ALARM_HIGH


def test_a_dismissed_test_is_dismissed_in_both_channels():
    pairs = segment_of([*BASE, (70.0, 95.0)])
    assert judge_sides(pairs, 1.5, dismissed={"FT-7"}).alarm is None


def test_a_baseline_without_flow_is_refused_with_the_side_named():
    with pytest.raises(RefusedInput, match="left"):
        judge_sides(segment_of([(0.0, 100.0)] * 6), 1.5)


def test_an_aircraft_trend_turns_into_json():
    plain = json.loads(
        json.dumps(judge_sides(segment_of([*BASE, (80.0, 99.0)]), 1.5).to_dict(), allow_nan=False)
    )
    assert plain["baseline"] == {"left": 98.0, "right": 102.0, "tests": 6}
    assert plain["balance"]["state"] == "alarm_low"
    assert plain["words"]
