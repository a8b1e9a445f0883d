"""How often the trend alarms falsely and how soon it sees a real change: simulated with fixed seeds.

Expected figures come from 40 000 simulated aircraft (repeatability 1.5 %, tests 0.5 + Exp(1) months apart, baseline of
six tests, independent Gaussian noise); the tolerance is three standard errors of the smaller runs made here.
"""

import math
import random
import statistics
from datetime import date, timedelta

import pytest

from records.judge.series import Observation, Segment, SidePair
from records.judge.side_trend import AircraftTrend, judge_sides
from records.judge.trend import confirm, judge_trend
from records.judge.trend_terms import TrendVerdict

START = date(2020, 1, 1)
MONTH = 365.25 / 12
SIGMA = 1.5
TESTS_IN_WATCH = 24


def three_errors(share: float, runs: int) -> float:
    return 3 * math.sqrt(share * (1 - share) / runs)


def quiet_verdicts(runs: int, seed: int) -> list[TrendVerdict]:
    chance = random.Random(seed)
    return [
        judge_trend(
            Segment(
                tuple(
                    Observation(START + timedelta(days=45 * k), chance.gauss(100, SIGMA))
                    for k in range(6 + TESTS_IN_WATCH)
                )
            ),
            SIGMA,
        )
        for _ in range(runs)
    ]


@pytest.fixture(scope="module")
def quiet() -> list[TrendVerdict]:
    return quiet_verdicts(6000, 24)


def test_one_channel_alarms_falsely_in_about_five_per_cent_of_24_tests(quiet):
    share = statistics.fmean(verdict.in_alarm for verdict in quiet)
    assert share == pytest.approx(0.050, abs=three_errors(0.050, len(quiet)))


def test_one_retest_confirms_few_false_alarms_and_most_real_ones(quiet):
    chance = random.Random(645)
    false = [confirm(verdict, [chance.gauss(100, SIGMA)]).confirmed for verdict in quiet if verdict.in_alarm]
    assert statistics.fmean(false) == pytest.approx(0.13, abs=three_errors(0.13, len(false)))
    lasting = sum(false) / len(quiet)
    assert lasting == pytest.approx(0.006, abs=three_errors(0.006, len(quiet)))


def test_both_channels_of_an_aircraft_alarm_falsely_in_about_seven_per_cent_of_24_tests():
    chance = random.Random(67)
    runs = 3000
    trends = [
        judge_sides(
            Segment(
                tuple(
                    SidePair(
                        START + timedelta(days=45 * k), chance.gauss(100, SIGMA), chance.gauss(100, SIGMA)
                    )
                    for k in range(6 + TESTS_IN_WATCH)
                )
            ),
            SIGMA,
        )
        for _ in range(runs)
    ]
    shares = [
        statistics.fmean(trend.together.in_alarm for trend in trends),
        statistics.fmean(trend.balance.in_alarm for trend in trends),
        statistics.fmean(trend.alarm is not None for trend in trends),
    ]
    for share, expected in zip(shares, (0.023, 0.044, 0.067), strict=True):
        assert share == pytest.approx(expected, abs=three_errors(expected, runs))


class ChangingAircraft:
    """Simulates tests of an aircraft that changes after `before` tests, by a step or by so much per month."""

    def __init__(self, seed: int, before: int, *, step: float = 0.0, per_month: float = 0.0) -> None:
        self.chance = random.Random(seed)
        self.before, self.step, self.per_month = before, step, per_month

    def changes(self, tests: int) -> tuple[list[tuple[date, float]], date]:
        month, onset, changes = 0.0, 0.0, []
        for k in range(1, tests + 1):
            month += 0.5 + self.chance.expovariate(1)
            if k == self.before:
                onset = month
            change = 0.0 if k <= self.before else self.step + self.per_month * (month - onset)
            changes.append((START + timedelta(days=round(month * MONTH)), max(change, -60.0)))
        return changes, START + timedelta(days=round(onset * MONTH))

    def one_channel(self, tests: int) -> tuple[TrendVerdict, date]:
        changes, onset = self.changes(tests)
        readings = (Observation(day, self.chance.gauss(100 + change, SIGMA)) for day, change in changes)
        return judge_trend(Segment(tuple(readings)), SIGMA), onset

    def both_sides(self, tests: int, *, redistributed: bool = False) -> tuple[AircraftTrend, date]:
        changes, onset = self.changes(tests)
        other = -1 if redistributed else 1
        pairs = (
            SidePair(
                day, self.chance.gauss(100 + change, SIGMA), self.chance.gauss(100 + other * change, SIGMA)
            )
            for day, change in changes
        )
        return judge_sides(Segment(tuple(pairs)), SIGMA), onset


def months_to_alarm(simulated: list[tuple[TrendVerdict | AircraftTrend, date]]) -> list[float]:
    """Alarms before the change are false and left out; an alarm that never came counts as very late."""
    months = [
        999.0 if verdict.alarm is None else (verdict.alarm.day - onset).days / MONTH
        for verdict, onset in simulated
    ]
    return [month for month in months if month > 0]


@pytest.mark.parametrize(("per_month", "median"), [(-1.0, 5.2), (-0.5, 8.4)])
def test_one_channel_sees_a_slow_fall_after_the_stated_months(per_month, median):
    aircraft = ChangingAircraft(52, 8, per_month=per_month)
    months = months_to_alarm([aircraft.one_channel(36) for _ in range(700)])
    assert statistics.median(months) == pytest.approx(median, abs=0.4)
    assert statistics.fmean(month < -10 / per_month for month in months) > 0.97


@pytest.mark.parametrize("redistributed", [False, True])
def test_an_aircraft_losing_one_per_cent_a_month_is_flagged_at_four_and_a_half_months(redistributed):
    aircraft = ChangingAircraft(44, 14, per_month=-1.0)
    months = months_to_alarm([aircraft.both_sides(36, redistributed=redistributed) for _ in range(400)])
    assert statistics.median(months) == pytest.approx(4.4, abs=0.4)
    assert statistics.quantiles(months, n=10)[-1] == pytest.approx(6.3, abs=0.6)
    assert statistics.fmean(month < 10 for month in months) > 0.98


@pytest.mark.parametrize(("step", "first", "second"), [(-15.0, 1.0, 1.0), (-5.0, 0.85, 0.97)])
@pytest.mark.parametrize("redistributed", [False, True])
def test_a_step_is_flagged_at_its_first_or_second_test(step, first, second, redistributed):
    aircraft = ChangingAircraft(15, 14, step=step)
    numbers = []
    for _ in range(500):
        trend, _ = aircraft.both_sides(18, redistributed=redistributed)
        number = 99 if trend.alarm is None else trend.alarm.number - 8
        if number > 0:
            numbers.append(number)
    assert statistics.fmean(number == 1 for number in numbers) == pytest.approx(first, abs=0.055)
    assert statistics.fmean(number <= 2 for number in numbers) == pytest.approx(second, abs=0.03)
