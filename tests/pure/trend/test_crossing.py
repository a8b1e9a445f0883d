"""The forecast of a limit crossing: fit, interval, when there is no date, and what the interval covers."""

import json
import random
import statistics
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.quantities import RefusedInput
from records.judge.broken_stick import fit_stick
from records.judge.crossing import PROFILE_90, Forecast, forecast_crossing
from records.judge.series import Observation, Segment
from records.judge.straight_line import straight_line

START = date(2025, 1, 1)
MONTH = 365.25 / 12
SIGMA = 1.5


def segment_of(days, values) -> Segment[Observation]:
    return Segment(
        tuple(Observation(START + timedelta(days=d), v) for d, v in zip(days, values, strict=True))
    )


LEVEL_THEN_FALLING = segment_of(range(0, 211, 30), [100.0, 100.0, 100.0, 100.0, 99.0, 98.0, 97.0, 96.0])


def test_an_exact_stick_is_found_exactly():
    fit = fit_stick(list(range(0, 211, 30)), [100, 100, 100, 100, 99, 98, 97, 96], 90, PROFILE_90 * SIGMA**2)
    assert fit is not None
    assert (fit.fall_begins, fit.level, fit.crossing) == (90, pytest.approx(100), pytest.approx(390))
    assert fit.squares == pytest.approx(0, abs=1e-9)


def test_the_headline_is_the_earliest_day_and_the_words_say_so():
    crossing = forecast_crossing(LEVEL_THEN_FALLING, 90.0, SIGMA, in_alarm=True)
    assert crossing.forecast is Forecast.DATED
    assert crossing.likeliest in (START + timedelta(days=389), START + timedelta(days=390))
    assert crossing.fall_begins == START + timedelta(days=90)
    assert crossing.earliest is not None
    assert crossing.earliest < crossing.likeliest
    assert crossing.latest is None or crossing.latest > crossing.likeliest
    assert crossing.words.startswith("The limit of 90.0 % may be reached from ")
    assert "estimate" in crossing.words


def grid_search(days, values, limit, horizon):
    """The same method by brute force: every day for tau, every day for T; least squares for each T."""
    t, y = np.array(days, float), np.array(values, float)
    ends = np.arange(days[-1], days[-1] + horizon, 1.0)
    best = np.full(len(ends), np.inf)
    for tau in range(days[0], min(days[-3], days[-1] - 1) + 1):
        w = np.maximum(0, t - tau)[None, :] / (ends - tau)[:, None]
        level = ((1 - w) * (y - limit * w)).sum(1) / ((1 - w) ** 2).sum(1)
        squares = ((y - level[:, None] * (1 - w) - limit * w) ** 2).sum(1)
        best = np.minimum(best, np.where(level > limit, squares, np.inf))
    return ends, best


@settings(max_examples=15)
@given(st.integers(0, 10**6), st.integers(2, 8), st.integers(3, 7))
def test_closed_forms_agree_with_a_grid_over_every_day(seed, level_tests, falling_tests):
    chance = random.Random(seed)
    days = [0]
    for _ in range(level_tests + falling_tests - 1):
        days.append(days[-1] + 5 + int(15 * chance.expovariate(1)))
    onset = days[level_tests - 1]
    values = [100 - max(0, day - onset) / 20 + chance.gauss(0, SIGMA) for day in days]
    if values[-1] < 90:
        values[-1] = 90.0
    horizon = 1500
    fit = fit_stick(days, values, 90.0, PROFILE_90 * SIGMA**2)
    ends, squares = grid_search(days, values, 90.0, horizon)
    assert fit is not None
    assert fit.squares <= squares.min() + 1e-9
    inside = ends[squares <= fit.squares + PROFILE_90 * SIGMA**2]
    assert inside.min() - 1 <= fit.earliest <= inside.min()
    if fit.latest < ends[-1]:
        assert inside.max() <= fit.latest <= inside.max() + 1
    else:
        assert inside.max() == ends[-1]
    if fit.crossing < ends[-1]:
        day = int(fit.crossing) - days[-1]
        assert fit.squares == pytest.approx(min(squares[day : day + 2]), abs=0.1)


@pytest.mark.parametrize(
    ("values", "in_alarm", "forecast"),
    [
        ([100, 100, 100, 89.9], True, Forecast.ALREADY_BELOW),
        ([100, 99, 98], True, Forecast.TOO_FEW_TESTS),
        ([100, 98, 96, 94], False, Forecast.NO_ALARM),
        ([100, 100, 100, 100, 100], True, Forecast.NO_CLEAR_FALL),
        ([100, 100.2, 99.8, 100.1, 99.5, 99.4], True, Forecast.NO_CLEAR_FALL),
        ([95, 97, 99, 101, 103], True, Forecast.NO_CLEAR_FALL),
    ],
)
def test_no_date_is_given_where_none_can_be_justified(values, in_alarm, forecast):
    crossing = forecast_crossing(
        segment_of(range(0, 30 * len(values), 30), values), 90.0, SIGMA, in_alarm=in_alarm
    )
    assert crossing.forecast is forecast
    assert crossing.earliest is None
    assert crossing.likeliest is None
    assert crossing.words.startswith("No date for reaching 90.0 %")


def test_a_test_exactly_at_the_limit_is_not_below_it():
    crossing = forecast_crossing(
        segment_of([0, 30, 60, 90, 120], [100, 100, 97, 94, 90]), 90.0, SIGMA, in_alarm=True
    )
    assert crossing.forecast is Forecast.DATED
    assert crossing.earliest == START + timedelta(days=120)


def test_tests_of_one_day_cannot_carry_a_date():
    crossing = forecast_crossing(segment_of([0, 0, 0, 0], [100, 98, 95, 92]), 90.0, SIGMA, in_alarm=True)
    assert crossing.forecast is Forecast.TOO_FEW_TESTS


def test_a_limit_met_only_beyond_the_horizon_gets_no_date():
    crossing = forecast_crossing(LEVEL_THEN_FALLING, 90.0, SIGMA, in_alarm=True, horizon_days=1)
    assert crossing.forecast is Forecast.BEYOND_HORIZON


def test_an_interval_end_beyond_the_horizon_is_said_to_be_open():
    crossing = forecast_crossing(LEVEL_THEN_FALLING, 90.0, SIGMA, in_alarm=True, horizon_days=200)
    assert crossing.earliest is not None
    assert crossing.latest is None
    assert "open end" in crossing.words


@pytest.mark.parametrize(
    ("limit", "sigma", "field"), [(float("nan"), 1.5, "limit"), (90.0, 0.0, "sigma"), (90.0, -1.0, "sigma")]
)
def test_a_limit_or_spread_that_makes_no_sense_is_refused(limit, sigma, field):
    with pytest.raises(RefusedInput, match=field):
        forecast_crossing(LEVEL_THEN_FALLING, limit, sigma, in_alarm=True)


def test_the_same_tests_a_year_later_give_dates_a_year_later():
    later = Segment(
        tuple(Observation(test.day + timedelta(days=365), test.value) for test in LEVEL_THEN_FALLING.valid)
    )
    first = forecast_crossing(LEVEL_THEN_FALLING, 90.0, SIGMA, in_alarm=True)
    second = forecast_crossing(later, 90.0, SIGMA, in_alarm=True)
    assert first.earliest is not None
    assert second.earliest == first.earliest + timedelta(days=365)


def test_a_crossing_turns_into_json():
    crossing = forecast_crossing(LEVEL_THEN_FALLING, 90.0, SIGMA, in_alarm=True)
    plain = json.loads(json.dumps(crossing.to_dict(), allow_nan=False))
    assert plain["forecast"] == "dated"
    assert plain["fall_begins"] == "2025-04-01"
    assert plain["words"] == crossing.words


def level_then_falling(
    chance: random.Random, level_tests: int, falling_tests: int
) -> tuple[list[int], list[float], float]:
    """Tests at 0.5 + Exp(1) months, level, then 1 % a month; the true crossing of 90 in days."""
    months = [0.0]
    for _ in range(level_tests + falling_tests - 1):
        months.append(months[-1] + 0.5 + chance.expovariate(1))
    onset = months[level_tests - 1]
    days = [round(month * MONTH) for month in months]
    values = [100 - max(0.0, month - onset) + chance.gauss(0, SIGMA) for month in months]
    return days, values, (onset + 10) * MONTH


def test_the_interval_covers_and_a_straight_line_promises_a_year_too_much():
    """Eight level and five falling tests: cover .87, error -0.2, absolute 1.3 months; straight line +12 months.

    Only crossings still ahead; 300 runs, so the cover carries a standard error of .019.
    """
    chance = random.Random(85)
    covered, errors, promised = [], [], []
    while len(errors) < 300:
        days, values, truth = level_then_falling(chance, 8, 5)
        fit = fit_stick(days, values, 90.0, PROFILE_90 * SIGMA**2)
        if truth <= days[-1] or fit is None:
            continue
        covered.append(fit.earliest <= truth <= fit.latest)
        errors.append((fit.crossing - truth) / MONTH)
        line = straight_line(days, values).reaches(90.0)
        promised.append((line - truth) / MONTH if line and line > 0 else 999.0)
    assert statistics.fmean(covered) == pytest.approx(0.87, abs=0.06)
    assert statistics.median(errors) == pytest.approx(-0.2, abs=0.4)
    assert statistics.median(abs(error) for error in errors) == pytest.approx(1.3, abs=0.35)
    assert statistics.median(promised) == pytest.approx(12, abs=2)


def test_straight_line_of_four_points_reaches_45_at_500_hours():
    line = straight_line([0, 100, 200, 300], [50, 49, 48, 47])
    assert line.slope == -0.01
    assert line.reaches(45) == pytest.approx(500)


def test_straight_line_of_six_flow_tests():
    line = straight_line([0, 150, 310, 450, 600, 760], [612, 605, 601, 590, 585, 579])
    assert line.slope == pytest.approx(-0.0445297, abs=5e-8)
    assert line.intercept == pytest.approx(612.1804, abs=5e-5)
    assert line.r_squared == pytest.approx(0.98459, abs=5e-6)
    assert line.reaches(540) == pytest.approx(1620.95, abs=5e-3)


@pytest.mark.parametrize(("times", "values"), [([1, 1, 1], [1, 2, 3]), ([1, 2], [1, 2]), ([1, 2, 3], [1, 2])])
def test_a_line_needs_three_points_at_different_times(times, values):
    with pytest.raises(RefusedInput):
        straight_line(times, values)
