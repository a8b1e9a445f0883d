"""Pump duty over random sequences of runs."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.quantities import RefusedInput
from records.judge.duty import DutyLimit, PumpRun, duty_from_data, duty_state, duty_to_data, judge_duty
from records.judge.terms import Outcome

TEN_TEN = DutyLimit(10_000, 10_000)
spans = st.lists(st.tuples(st.integers(0, 15_000), st.integers(0, 15_000)), min_size=1, max_size=8)


def laid_out(rests_and_runs):
    """Runs one after another: a rest, then a run."""
    runs, moment = [], 0
    for rest, length in rests_and_runs:
        runs.append(PumpRun(moment + rest, moment + rest + length))
        moment += rest + length
    return runs


@settings(max_examples=200, deadline=None)
@given(spans=spans, wait=st.integers(0, 15_000))
def test_running_as_long_as_the_answer_says_never_breaks_the_limit_and_longer_always_does(spans, wait):
    runs = laid_out(spans)
    if judge_duty(runs, TEN_TEN).outcome is Outcome.FAIL:
        return
    now = runs[-1].stop_ms + wait
    left = duty_state(runs, TEN_TEN, now).may_run_ms
    assert judge_duty([*runs, PumpRun(now, now + left)], TEN_TEN).passes
    assert judge_duty([*runs, PumpRun(now, now + left + 1)], TEN_TEN).outcome is Outcome.FAIL


@settings(max_examples=200, deadline=None)
@given(spans=spans)
def test_a_full_run_at_the_moment_promised_is_always_allowed(spans):
    runs = laid_out(spans)
    if judge_duty(runs, TEN_TEN).outcome is Outcome.FAIL:
        return
    start = duty_state(runs, TEN_TEN, runs[-1].stop_ms).full_run_from_ms
    assert judge_duty([*runs, PumpRun(start, start + 10_000)], TEN_TEN).passes


def test_a_pump_still_on_is_judged_up_to_now_once_it_is_over():
    assert judge_duty([PumpRun(0)], TEN_TEN, now_ms=10_000).outcome is Outcome.INCOMPLETE
    over = judge_duty([PumpRun(0)], TEN_TEN, now_ms=10_001)
    assert (over.outcome, format(over.margin_shown, "f")) == (Outcome.FAIL, "-0.001")


def test_a_duty_limit_goes_back_to_data_in_seconds():
    limit = duty_from_data({"maximum_on": "1.5", "minimum_rest": "0.25", "unit": "min"})
    assert limit == DutyLimit(90_000, 15_000)
    assert duty_to_data(limit) == {"maximum_on": "90", "minimum_rest": "15", "unit": "s"}


@pytest.mark.parametrize("maximum", ["0", "-1", "0.0001", "x", None])
def test_a_maximum_that_is_no_time_is_refused(maximum):
    with pytest.raises(RefusedInput) as caught:
        duty_from_data({"maximum_on": maximum, "minimum_rest": "10", "unit": "s"})
    assert caught.value.reasons[0].field == "duty.maximum_on"


def test_a_clock_behind_the_last_stop_is_refused():
    with pytest.raises(RefusedInput, match="check the clock"):
        duty_state([PumpRun(0, 5_000)], TEN_TEN, 4_000)
