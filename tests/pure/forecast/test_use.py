"""The rate of use: own last 90 days, leaned towards aircraft of the type that fly as steadily."""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction

import pytest

from scheduling.due.terms import Measure
from scheduling.due.use import (
    DayUse,
    FleetRates,
    Regularity,
    UseHistory,
    fleet_rates,
    own_weight,
    rate,
    regularity_for,
    use_history,
)

TODAY = date(2026, 3, 2)


def steady(minutes: int, days: int, landings: int = 1, every: int = 1) -> UseHistory:
    """The same flying on every n-th day, up to yesterday."""
    first = TODAY - timedelta(days=days)
    flown = {first + timedelta(days=n): DayUse(minutes, landings, landings) for n in range(0, days, every)}
    return use_history(flown, first, TODAY)


def fleet_at(minutes: int) -> FleetRates:
    return fleet_rates([steady(minutes, 90)], TODAY)


def test_days_without_flying_are_zeros_and_today_does_not_count() -> None:
    days = {date(2026, 3, 1): DayUse(90, 1, 1), TODAY: DayUse(600, 9, 9)}
    history = use_history(days, date(2026, 2, 27), TODAY)
    assert history.daily[Measure.HOURS] == (0, 0, 90)
    assert history.daily[Measure.FLIGHT_DAYS] == (0, 0, 1)


def test_ninety_days_of_own_flying_weigh_four_fifths() -> None:
    assert rate(steady(100, 90), fleet_at(50), TODAY).used[Measure.HOURS] == 90_000
    assert rate(steady(100, 90), fleet_at(50), TODAY).own_percent() == 80


@pytest.mark.parametrize(
    ("days", "expected"), [(1, 52_128), (10, 65_385), (30, 78_571), (90, 90_000), (400, 90_000)]
)
def test_a_short_history_leans_further_towards_the_fleet(days: int, expected: int) -> None:
    assert rate(steady(100, days), fleet_at(50), TODAY).used[Measure.HOURS] == expected


def test_only_the_last_ninety_days_count() -> None:
    first = TODAY - timedelta(days=200)
    long_ago = {first + timedelta(days=n): DayUse(900, 5, 5) for n in range(110)}
    lately = {first + timedelta(days=n): DayUse(60, 1, 1) for n in range(110, 200)}
    history = use_history(long_ago | lately, first, TODAY)
    assert rate(history, FleetRates(), TODAY).used[Measure.HOURS] == 60_000


def test_zero_use_stays_zero_whatever_its_like_do() -> None:
    standing = use_history({}, TODAY - timedelta(days=90), TODAY)
    fleet = fleet_rates([steady(200, 90, every=9), standing], TODAY)
    found = rate(standing, fleet, TODAY)
    assert found.fleet is not None
    assert found.used[Measure.HOURS] == 0


def test_an_aircraft_without_history_takes_the_rate_of_its_type() -> None:
    fresh = rate(use_history({}, TODAY, TODAY), fleet_at(200), TODAY)
    assert fresh.used[Measure.HOURS] == 200_000
    assert fresh.history_days == 0


def test_without_a_fleet_the_own_rate_stands_alone() -> None:
    alone = rate(steady(100, 12), FleetRates(), TODAY)
    assert (alone.used[Measure.HOURS], alone.own_percent(), alone.fleet) == (100_000, 100, None)


def test_the_fleet_is_the_mean_of_those_that_moved() -> None:
    standing = use_history({}, TODAY - timedelta(days=90), TODAY)
    fleet = fleet_rates([steady(100, 90), steady(200, 90), standing], TODAY)
    assert fleet.every is not None
    assert fleet.every[Measure.HOURS] == 150_000
    assert fleet_rates([standing], TODAY) == FleetRates()


def test_an_aircraft_leans_towards_those_that_fly_as_steadily() -> None:
    seldom = steady(100, 90, every=4)
    fleet = fleet_rates([steady(300, 90), seldom], TODAY)
    assert (
        rate(seldom, fleet, TODAY).used[Measure.HOURS]
        == rate(seldom, FleetRates(), TODAY).used[Measure.HOURS]
    )
    assert rate(seldom, fleet, TODAY).regularity is Regularity.OCCASIONAL


def test_half_and_a_fifth_of_the_days_are_the_borders_of_regularity() -> None:
    shares = (0.5, 0.499, 0.2, 0.199, 0.0)
    assert [regularity_for(share).value for share in shares] == [
        "regular",
        "occasional",
        "occasional",
        "rare",
        "rare",
    ]


def test_the_engine_gets_exact_fractions() -> None:
    assert rate(steady(100, 90), fleet_at(50), TODAY).per_day()["hours"] == Fraction(90)


def test_own_weight_only_grows_with_history() -> None:
    weights = [own_weight(days) for days in range(91)]
    assert weights == sorted(weights)
    assert (weights[0], weights[90]) == (0.0, 0.8)
