"""When may a falling flow meet its limit? A date only where the evidence carries one, and the earliest
first. Pure.

The interval holds every date whose fit is within 2.7055 sigma^2 of the best (90 % profile interval of one
unknown). A forecast never replaces a test and is never a limit of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from fleet.quantities import refused
from records.judge.broken_stick import StickFit, fit_stick
from records.judge.series import Observation, Segment
from records.judge.straight_line import straight_line
from records.judge.worded import Worded, day_in_words, finite, positive

PROFILE_90 = 2.7055
"""90 % point of chi-square with one degree of freedom."""
LEAST_TESTS = 4
HORIZON_DAYS = 3650


class Forecast(StrEnum):
    """Whether there is a date, and if not, why not."""

    DATED = "dated"
    ALREADY_BELOW = "already_below"
    TOO_FEW_TESTS = "too_few_tests"
    NO_ALARM = "no_alarm"
    NO_CLEAR_FALL = "no_clear_fall"
    BEYOND_HORIZON = "beyond_horizon"


_WHY_NOT = {
    Forecast.ALREADY_BELOW: "the latest test is below the limit already",
    Forecast.TOO_FEW_TESTS: "fewer than four valid tests on three or more days",
    Forecast.NO_ALARM: "the trend is not in alarm",
    Forecast.NO_CLEAR_FALL: "the tests fit a level flow as well as a falling one",
    Forecast.BEYOND_HORIZON: "the limit lies further off than can be said",
}


@dataclass(frozen=True, slots=True)
class Crossing(Worded):
    """Days on which the limit may be met; `latest` None is an open end.

    `earliest` is the headline. `straight_line_day` is what a line through all tests would say: for
    comparison only, it promises too much where the flow was level first.
    """

    forecast: Forecast
    limit: float
    earliest: date | None = None
    likeliest: date | None = None
    latest: date | None = None
    fall_begins: date | None = None
    level: float | None = None
    straight_line_day: date | None = None

    @property
    def words(self) -> str:
        """The earliest date first, then how far it may move; or why there is no date."""
        if self.earliest is None or self.fall_begins is None:
            return f"No date for reaching {self.limit:.1f} %: {_WHY_NOT[self.forecast]}."
        latest = f"to {day_in_words(self.latest)}" if self.latest else "with an open end"
        likeliest = f", most likely {day_in_words(self.likeliest)}" if self.likeliest else ""
        return (
            f"The limit of {self.limit:.1f} % may be reached from {day_in_words(self.earliest)} on "
            f"(90 % interval {latest}{likeliest}), if the fall that began about "
            f"{day_in_words(self.fall_begins)} goes on. An estimate; every test is still judged by the limit."
        )


def forecast_crossing(
    segment: Segment[Observation],
    limit: float,
    sigma: float,
    *,
    in_alarm: bool,
    horizon_days: int = HORIZON_DAYS,
) -> Crossing:
    """When the current fall meets a lower limit, from the valid tests of a segment (all in per cent).

    No date without an alarm, below four tests, once below the limit, or while a level flow fits as well.
    Worked: see `fit_stick`; with sigma 1.5 its 3 % fall is dated, a fall of 1 % is not.
    """
    finite("limit", limit)
    positive("sigma", sigma)
    if horizon_days < 1:
        raise refused("no_horizon", "horizon_days", horizon_days, "must be one or more", "give days")
    valid = segment.valid
    silent = _silent(valid, limit, in_alarm=in_alarm)
    if silent is not None:
        return Crossing(silent, limit)
    first = valid[0].day
    days = [(observation.day - first).days for observation in valid]
    values = [observation.value for observation in valid]
    fit = fit_stick(days, values, limit, PROFILE_90 * sigma * sigma)
    if fit is None:
        return Crossing(Forecast.TOO_FEW_TESTS, limit)
    if fit.flat_squares - fit.squares <= PROFILE_90 * sigma * sigma:
        return Crossing(Forecast.NO_CLEAR_FALL, limit)
    calendar = _Calendar(first, days[-1] + horizon_days)
    if calendar.day(fit.earliest) is None:
        return Crossing(Forecast.BEYOND_HORIZON, limit)
    return _dated(fit, limit, calendar, straight_line(days, values).reaches(limit))


@dataclass(frozen=True, slots=True)
class _Calendar:
    first: date
    last: int

    def day(self, number: float) -> date | None:
        """The date of a day number, rounded down; None beyond the horizon."""
        return None if number > self.last else self.first + timedelta(days=int(number // 1))


def _silent(valid: Sequence[Observation], limit: float, *, in_alarm: bool) -> Forecast | None:
    if valid and valid[-1].value < limit:
        return Forecast.ALREADY_BELOW
    if len(valid) < LEAST_TESTS:
        return Forecast.TOO_FEW_TESTS
    return None if in_alarm else Forecast.NO_ALARM


def _dated(fit: StickFit, limit: float, calendar: _Calendar, line: float | None) -> Crossing:
    return Crossing(
        Forecast.DATED,
        limit,
        earliest=calendar.day(fit.earliest),
        likeliest=calendar.day(fit.crossing),
        latest=calendar.day(fit.latest),
        fall_begins=calendar.day(fit.fall_begins),
        level=fit.level,
        straight_line_day=None if line is None or line < 0 else calendar.day(line),
    )
