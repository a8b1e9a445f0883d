"""The interval comes from how far the fleet's forecasts missed, open cases counted as open."""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest

from scheduling.due.forecast_errors import (
    Case,
    ErrorBand,
    ForecastErrors,
    Spread,
    forecast_errors,
    kaplan_meier_quantiles,
)
from scheduling.due.terms import Measure
from scheduling.due.use import DayUse, Regularity, UseHistory, use_history

AS_OF = date(2026, 3, 2)


def fleet(size: int, minutes_on: dict[int, int] | int, length: int = 240) -> list[UseHistory]:
    """Aircraft flown every day: a fixed number of minutes, or by the days since the start."""
    first = AS_OF - timedelta(days=length)
    days = {
        first + timedelta(days=n): DayUse(minutes_on if isinstance(minutes_on, int) else minutes_on[n], 1, 1)
        for n in range(length)
    }
    return [use_history(days, first, AS_OF) for _ in range(size)]


def closed(*ratios: float) -> list[Case]:
    return [Case(ratio, is_closed=True) for ratio in ratios]


def still_open(*ratios: float) -> list[Case]:
    return [Case(ratio, is_closed=False) for ratio in ratios]


def test_without_open_cases_the_quantiles_are_those_of_the_sample() -> None:
    assert kaplan_meier_quantiles(closed(4, 2, 3, 1), (0.25, 0.5, 1.0)) == (1, 2, 4)


@pytest.mark.published
def test_the_product_limit_estimate_of_the_leukaemia_remissions() -> None:
    """Freireich et al. 1963, 6-MP group, the standard worked case (from memory): S(6) .857, S(10) .753, S(23) .448."""
    weeks = closed(6, 6, 6, 7, 10, 13, 16, 22, 23) + still_open(6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)
    quantiles = kaplan_meier_quantiles(weeks, (0.142, 0.144, 0.246, 0.248, 0.5, 0.551, 0.553))
    assert quantiles == (6, 7, 10, 13, 23, 23, None)


def test_open_cases_push_the_late_end_out_and_may_hide_it() -> None:
    cases = closed(1, 1, 1, 1, 1, 1, 1, 1)
    assert kaplan_meier_quantiles([*cases, *still_open(2, 2)], (0.1, 0.9)) == (1, None)
    assert kaplan_meier_quantiles([*cases, *still_open(0.5, 0.5)], (0.1, 0.9)) == (1, 1)


def test_steady_flying_is_forecast_without_error() -> None:
    errors = forecast_errors(fleet(3, 100), AS_OF)
    for band in errors.bands[Measure.HOURS, Regularity.REGULAR]:
        assert band.low == pytest.approx(1.0)
        assert band.high == pytest.approx(1.0)


def test_every_week_of_the_last_150_days_is_asked_at_every_horizon() -> None:
    bands = forecast_errors(fleet(4, 100), AS_OF).bands[Measure.HOURS, Regularity.REGULAR]
    assert [(band.horizon, band.closed, band.still_open) for band in bands] == [
        (7, 84, 0),
        (14, 80, 4),
        (28, 72, 12),
        (56, 56, 28),
    ]


def test_flying_that_halves_makes_forecasts_come_true_late() -> None:
    slowing = {n: 200 if n < 165 else 100 for n in range(240)}
    spread = forecast_errors(fleet(4, slowing), AS_OF).spreads(Measure.HOURS, Regularity.REGULAR).at(28)
    assert spread.high is not None
    assert spread.high > 1.5


def test_fewer_than_thirty_finished_forecasts_measure_nothing() -> None:
    assert forecast_errors(fleet(1, 100), AS_OF).bands[Measure.HOURS, Regularity.REGULAR] == ()
    spread = forecast_errors(fleet(1, 100), AS_OF).spreads(Measure.HOURS, Regularity.REGULAR).at(28)
    assert spread == Spread(0.5, 2.0, 0)


def test_between_two_horizons_the_factors_lie_between() -> None:
    bands = (ErrorBand(7, 0.5, 2.0, 40, 0), ErrorBand(28, 0.8, 1.25, 30, 5))
    errors = ForecastErrors({(Measure.HOURS, Regularity.REGULAR): bands})
    found = errors.spreads(Measure.HOURS, Regularity.REGULAR).at(14)
    assert (found.low, found.high) == (pytest.approx(0.4**0.5), pytest.approx(2.5**0.5))
    assert found.cases == 35
    assert errors.spreads(Measure.HOURS, Regularity.REGULAR).at(2) == Spread(0.5, 2.0, 40)
    assert errors.spreads(Measure.HOURS, Regularity.REGULAR).at(900) == Spread(0.8, 1.25, 35)


def test_an_aircraft_whose_like_forecast_too_little_takes_the_errors_of_all() -> None:
    errors = forecast_errors(fleet(4, 100), AS_OF)
    rare = errors.spreads(Measure.HOURS, Regularity.RARE).at(28)
    assert rare == errors.spreads(Measure.HOURS, Regularity.REGULAR).at(28)


def test_the_interval_holds_about_four_in_five_where_flying_is_random() -> None:
    pick = random.Random(2026)
    first = AS_OF - timedelta(days=330)
    histories = [
        use_history(
            {first + timedelta(days=n): DayUse(pick.choice((0, 0, 90, 180, 360)), 1, 1) for n in range(330)},
            first,
            AS_OF,
        )
        for _ in range(25)
    ]
    made = AS_OF - timedelta(days=60)
    spread = forecast_errors(histories, made).spreads(Measure.HOURS, Regularity.REGULAR).at(14)
    hits = 0
    for history in histories:
        row = history.daily[Measure.HOURS]
        own = sum(row[180:270]) / 90
        used, day = 0.0, 270
        while used < own * 14:
            used += row[day]
            day += 1
        hits += spread.low * 14 <= day - 270 <= (spread.high or 99) * 14 + 1
    assert 17 <= hits <= 24
