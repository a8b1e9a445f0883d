"""A projected day never comes without its interval, and none is given where there is nothing to go by."""

from __future__ import annotations

import random
from datetime import date, timedelta

import pytest

from scheduling.due.flying_plan import FlyingPlan, PlannedUse, flies_every_day, flying_plan
from scheduling.due.forecast import NoDate, Projection, Remaining, fleet_rates, forecast_errors, project, rate
from scheduling.due.forecast_errors import ErrorBand, ForecastErrors
from scheduling.due.terms import Measure
from scheduling.due.use import DayUse, FleetRates, Rate, Regularity, UseHistory, use_history
from tests.words import plain

TODAY = date(2026, 3, 2)
BAND = ErrorBand(28, 0.8, 1.5, 400, 20)
ERRORS = ForecastErrors({(Measure.HOURS, Regularity.REGULAR): (BAND,)})


def at(minutes: int, landings: int = 2) -> Rate:
    used = {Measure.HOURS: minutes * 1000, Measure.LANDINGS: landings * 1000}
    return Rate(used, used, None, 90, Regularity.REGULAR)


def dated(found: Projection | NoDate) -> Projection:
    assert isinstance(found, Projection), found
    return found


def test_what_remains_over_the_rate_is_the_day_and_the_errors_make_the_interval() -> None:
    found = dated(project(Remaining(1000), at(100), ERRORS, TODAY))
    assert (found.day, found.earliest, found.latest) == (
        date(2026, 3, 12),
        date(2026, 3, 10),
        date(2026, 3, 17),
    )
    assert found.is_measured


def test_the_basis_says_what_it_rests_on() -> None:
    found = dated(project(Remaining(1000), at(100), ERRORS, TODAY))
    assert plain(found.basis) == (
        "16:40 h left; 1:40 h a day (own last 90 days); 80 % interval from 420 past forecasts of the fleet"
    )


def test_too_few_past_forecasts_give_a_wide_interval_that_says_it_is_assumed() -> None:
    found = dated(project(Remaining(1000), at(100), ForecastErrors(), TODAY))
    assert (found.earliest, found.latest) == (date(2026, 3, 7), date(2026, 3, 22))
    assert not found.is_measured
    assert "assumed" in found.basis


def test_a_late_end_that_is_not_in_sight_is_left_open() -> None:
    errors = ForecastErrors({(Measure.HOURS, Regularity.REGULAR): (ErrorBand(28, 0.8, None, 40, 60),)})
    found = dated(project(Remaining(1000), at(100), errors, TODAY))
    assert (found.earliest, found.latest) == (date(2026, 3, 10), None)


def test_the_day_itself_always_lies_in_the_interval() -> None:
    late = ForecastErrors({(Measure.HOURS, Regularity.REGULAR): (ErrorBand(28, 1.2, 1.5, 40, 0),)})
    early = ForecastErrors({(Measure.HOURS, Regularity.REGULAR): (ErrorBand(28, 0.5, 0.8, 40, 0),)})
    assert dated(project(Remaining(1000), at(100), late, TODAY)).earliest == date(2026, 3, 12)
    assert dated(project(Remaining(1000), at(100), early, TODAY)).latest == date(2026, 3, 12)


@pytest.mark.parametrize("amount", [0, -1, -5000])
def test_a_limit_already_reached_is_today(amount: int) -> None:
    found = dated(project(Remaining(amount), at(0), ERRORS, TODAY))
    assert (found.earliest, found.day, found.latest) == (TODAY, TODAY, TODAY)


def test_zero_use_gives_no_date() -> None:
    assert project(Remaining(1000), at(0), ERRORS, TODAY) == NoDate("no flight time in the last 90 days")


def test_nothing_known_gives_no_date() -> None:
    unknown = rate(use_history({}, TODAY, TODAY), FleetRates(), TODAY)
    assert project(Remaining(1000), unknown, ERRORS, TODAY) == NoDate("nothing is known yet about its use")


def test_beyond_twenty_years_there_is_no_date() -> None:
    assert isinstance(project(Remaining(7305), at(1), ERRORS, TODAY), Projection)
    found = project(Remaining(7306), at(1), ERRORS, TODAY)
    assert found == NoDate("at this rate the limit is more than 20 years away")


def test_six_hours_a_day_brings_the_day_nearer() -> None:
    found = dated(project(Remaining(3600), at(100), ERRORS, TODAY, flies_every_day(360, TODAY)))
    assert (found.earliest, found.day, found.latest) == (
        date(2026, 3, 10),
        date(2026, 3, 12),
        date(2026, 3, 17),
    )
    assert "planned days count as planned" in found.basis


def test_a_stay_in_the_hangar_moves_day_and_interval_by_its_length() -> None:
    stay = flying_plan([PlannedUse(TODAY, TODAY + timedelta(days=29), 0)])
    found = dated(project(Remaining(1000), at(100), ERRORS, TODAY, stay))
    assert (found.earliest, found.day, found.latest) == (
        date(2026, 4, 9),
        date(2026, 4, 11),
        date(2026, 4, 16),
    )


def test_a_plan_that_never_flies_gives_no_date() -> None:
    found = project(Remaining(1000), at(100), ERRORS, TODAY, flies_every_day(0, TODAY))
    assert found == NoDate("the flying plan never uses up what is left")


def test_landings_are_counted_in_landings() -> None:
    found = dated(project(Remaining(25, Measure.LANDINGS), at(100), ForecastErrors(), TODAY))
    assert found.day == date(2026, 3, 14)
    assert plain(found.basis).startswith("25 landings left; 2 landings a day")


def random_plan(pick: random.Random) -> FlyingPlan | None:
    if pick.random() < 0.4:
        return None
    first = TODAY + timedelta(days=pick.randrange(-5, 20))
    return flying_plan(
        [PlannedUse(first, first + timedelta(days=pick.randrange(0, 40)), pick.randrange(0, 500))]
    )


def test_the_day_lies_in_its_interval_and_less_remaining_is_never_later() -> None:
    pick = random.Random(11)
    for _ in range(3000):
        plan, usual = random_plan(pick), at(pick.randrange(20, 400))
        amount = pick.randrange(1, 40_000)
        far = dated(project(Remaining(amount), usual, ERRORS, TODAY, plan))
        near = dated(project(Remaining(pick.randrange(0, amount)), usual, ERRORS, TODAY, plan))
        assert far.earliest <= far.day <= (far.latest or date.max)
        assert near.day <= far.day


def test_the_whole_road_from_flights_to_a_day() -> None:
    first = TODAY - timedelta(days=240)
    pick = random.Random(3)
    histories = [
        use_history(
            {first + timedelta(days=n): DayUse(pick.randrange(60, 200), 2, 2) for n in range(240)},
            first,
            TODAY,
        )
        for _ in range(6)
    ]
    own = rate(histories[0], fleet_rates(histories, TODAY), TODAY)
    found = dated(project(Remaining(6000), own, forecast_errors(histories, TODAY), TODAY))
    assert found.is_measured
    assert found.latest is not None
    assert date(2026, 4, 10) <= found.earliest <= found.day <= found.latest <= date(2026, 4, 24)


def history_of(pick: random.Random, first: date, length: int) -> UseHistory:
    days = {first + timedelta(days=n): DayUse(pick.choice((0, 60, 120, 240)), 1, 1) for n in range(length)}
    return use_history(days, first, first + timedelta(days=length))


def test_errors_never_look_at_the_day_they_are_made_on_or_later() -> None:
    first, as_of = date(2025, 1, 1), date(2025, 9, 1)
    known = (as_of - first).days
    short = [history_of(random.Random(n), first, known) for n in range(4)]
    longer = [
        UseHistory(first, known + 90, {measure: row + (999,) * 90 for measure, row in history.daily.items()})
        for history in short
    ]
    assert forecast_errors(longer, as_of) == forecast_errors(short, as_of)
    assert forecast_errors(short, as_of).bands[Measure.HOURS, Regularity.REGULAR]
