"""Mann-Kendall and Theil-Sen against two independent programs, and what the cross-check may say."""

import itertools
import json
from datetime import date, timedelta

import pymannkendall
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from fleet.quantities import RefusedInput
from records.judge.mann_kendall import cross_check, exact_p, mann_kendall, tendency_of, theil_sen_slope
from records.judge.series import Observation, Segment

START = date(2025, 1, 1)
tied_or_not = st.lists(st.integers(-6, 6).map(float), min_size=3, max_size=30)
without_ties = st.lists(st.floats(-50, 50), min_size=3, max_size=10, unique=True)


def segment_of(values, gap=30) -> Segment[Observation]:
    return Segment(tuple(Observation(START + timedelta(days=gap * k), v) for k, v in enumerate(values)))


@given(tied_or_not)
def test_s_variance_z_and_normal_p_equal_the_independent_program(values):
    ours, theirs = mann_kendall(values), pymannkendall.original_test(values)
    assert (ours.s, ours.slope) == (theirs.s, theirs.slope)
    assert ours.variance == pytest.approx(theirs.var_s)
    assert ours.z == pytest.approx(theirs.z)
    assert ours.p_normal == pytest.approx(theirs.p, abs=1e-12)


@given(without_ties)
def test_exact_p_equals_kendalls_exact_test(values):
    ours = mann_kendall(values)
    theirs = stats.kendalltau(range(len(values)), values, method="exact")
    assert ours.is_exact
    assert ours.p_value == pytest.approx(theirs.pvalue, abs=1e-12)


@pytest.mark.filterwarnings("ignore:invalid value:RuntimeWarning")
@given(st.lists(st.tuples(st.integers(0, 8), st.floats(-50, 50)), min_size=3, max_size=15))
def test_slope_over_irregular_and_equal_times_is_the_theil_sen_slope(points):
    points.sort(key=lambda point: point[0])
    times, values = [t for t, _ in points], [v for _, v in points]
    ours = theil_sen_slope(values, times)
    if len(set(times)) == 1:
        assert ours is None
    else:
        assert ours == pytest.approx(stats.theilslopes(values, times)[0], abs=1e-9)


@given(tied_or_not)
def test_turning_the_series_upside_down_turns_s_and_keeps_p(values):
    up, down = mann_kendall(values), mann_kendall([-value for value in values])
    assert (up.s, up.p_value) == (-down.s, down.p_value)


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_exact_p_counts_every_order(count):
    scores = [
        sum((b > a) - (b < a) for a, b in itertools.combinations(order, 2))
        for order in itertools.permutations(range(count))
    ]
    for s in set(scores):
        assert exact_p(count, s) == pytest.approx(sum(abs(x) >= abs(s) for x in scores) / len(scores))


def test_exact_and_normal_p_of_five_tests_differ():
    result = mann_kendall([1, 3, 2, 5, 4])
    assert result.s == 6
    assert result.p_value == pytest.approx(0.233, abs=5e-4)
    assert result.p_normal == pytest.approx(0.221, abs=5e-4)


def test_three_tests_are_never_significant_and_four_in_a_row_one_sided_one_in_twenty_four():
    three, four = mann_kendall([3, 2, 1]), mann_kendall([4, 3, 2, 1])
    assert three.p_value / 2 == pytest.approx(1 / 6)
    assert four.p_value / 2 == pytest.approx(1 / 24)
    assert not three.is_significant
    assert "too few" in three.words


def test_all_equal_tests_have_z_zero_and_p_one():
    result = mann_kendall([5.0, 5.0, 5.0, 5.0, 5.0])
    assert (result.s, result.variance, result.z, result.p_value, result.slope) == (0, 0, 0, 1, 0)
    assert not result.is_significant


def test_tests_a_month_apart_falling_one_per_cent_each_say_so_per_month():
    tendency = tendency_of(segment_of([100, 99, 98, 97, 96]))
    assert tendency is not None
    assert tendency.is_falling
    assert tendency.slope == pytest.approx(-1 / 30)
    assert (
        tendency.words
        == "Mann-Kendall over 5 tests: falling (exact p 0.017), median slope -1.01 % per month."
    )


def test_the_cross_check_waits_for_two_tests_after_the_alarm():
    falling = segment_of([100, 101, 100.5, 99, 98, 97, 96, 95])
    at_alarm = cross_check(falling, alarm=8)
    assert at_alarm is not None
    assert at_alarm.supports is None
    assert "after 2 further tests" in at_alarm.words
    later = cross_check(falling, alarm=6)
    assert later is not None
    assert later.supports is True
    assert later.words.endswith("This supports the alarm.")


def test_the_cross_check_does_not_support_an_alarm_the_other_way_or_without_tendency():
    falling = cross_check(segment_of([100, 101, 100.5, 99, 98, 97, 96, 95]), alarm=6, falling=False)
    assert falling is not None
    assert falling.supports is False
    level = cross_check(segment_of([100, 101, 99, 100.5, 99.5, 100.2, 99.8, 100.1]), alarm=5)
    assert level is not None
    assert level.supports is False
    assert "does not support" in level.words


def test_no_test_no_tendency():
    assert tendency_of(segment_of([100.0])) is None
    assert cross_check(segment_of([]), alarm=1) is None


def test_values_and_times_must_pair_up_and_be_numbers():
    with pytest.raises(RefusedInput, match="times"):
        mann_kendall([1, 2, 3], [1, 2])
    with pytest.raises(RefusedInput, match="two or more"):
        mann_kendall([1.0])
    with pytest.raises(RefusedInput, match="finite"):
        mann_kendall([1.0, float("nan")])
    with pytest.raises(RefusedInput, match="finite"):
        mann_kendall([float("nan"), 1.0])


def test_a_tendency_turns_into_json():
    tendency = mann_kendall([1, 2, 3, 4])
    assert json.loads(json.dumps(tendency.to_dict(), allow_nan=False))["s"] == 6
