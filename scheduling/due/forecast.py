"""When a counted limit will probably be reached, never without its 80 % interval. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import NamedTuple

from fleet.common.wording import hours, quantity
from scheduling.due.flying_plan import FlyingPlan, Stretch, stretches
from scheduling.due.forecast_errors import ForecastErrors, Spread, forecast_errors
from scheduling.due.terms import Measure
from scheduling.due.use import Rate, fleet_rates, rate, use_history

__all__ = [
    "ForecastErrors",
    "NoDate",
    "Projection",
    "Rate",
    "Remaining",
    "fleet_rates",
    "forecast_errors",
    "project",
    "rate",
    "use_history",
]

NAMES = {
    Measure.HOURS: "flight time",
    Measure.LANDINGS: "landings",
    Measure.CYCLES: "engine cycles",
    Measure.FLIGHT_DAYS: "flight days",
}

FARTHEST_DAYS = 7305
"""Twenty years: what lies beyond gets no date."""


@dataclass(frozen=True, slots=True)
class Remaining:
    """What is left before a limit, in its own unit (hours: whole minutes); negative where it has been passed."""

    amount: int
    measure: Measure = Measure.HOURS


@dataclass(frozen=True, slots=True)
class Projection:
    """The day a limit will probably be reached; in four of five cases between `earliest` and `latest`.

    `latest` None: the late end is not in sight. `is_measured` False: the interval is assumed, not yet measured.
    """

    day: date
    earliest: date
    latest: date | None
    basis: str
    is_measured: bool = True


@dataclass(frozen=True, slots=True)
class NoDate:
    """No day can be given; `reason` says why."""

    reason: str


class Reach(NamedTuple):
    """In how many days an amount is used up, the ends of the 80 % interval (late None: not in sight), and why."""

    days: int
    early: int
    late: int | None
    spread: Spread


def reach(amount: int, pieces: tuple[Stretch, ...], spread_for: Callable[[int], Spread]) -> Reach | None:
    """The figures of a projection without its words, for reckoning many: 1000 at 100 a day is 10 days.

    `spread_for` gives the spread of a forecast of so many days.
    """
    days = _days_to_use(amount * 1000, pieces)
    if days is None or days > FARTHEST_DAYS:
        return None
    spread = spread_for(max(days, 1))
    early = _days_to_use(round(amount * 1000 * spread.low), pieces)
    late = None if spread.high is None else _days_to_use(round(amount * 1000 * spread.high), pieces)
    late = None if late is None or late > FARTHEST_DAYS else max(late, days)
    return Reach(days, days if early is None else min(early, days), late, spread)


def project(
    remaining: Remaining, rate: Rate, errors: ForecastErrors, today: date, plan: FlyingPlan | None = None
) -> Projection | NoDate:
    """Project the day on which what remains is used up; planned days count as planned, the others at the rate.

    1000 minutes left at 100 a day on 1 March: 11 March. The interval asks the same question for a use that is
    faster or slower by the factors the fleet's own forecasts missed by, so a stay in the hangar stays as long.
    """
    if remaining.amount <= 0:
        return Projection(today, today, today, "the limit has been reached")
    pieces = stretches(plan, remaining.measure, rate, today)
    found = reach(remaining.amount, pieces, errors.spreads(remaining.measure, rate.regularity).at)
    if found is None:
        days = _days_to_use(remaining.amount * 1000, pieces)
        return NoDate(_why_no_day(remaining, rate, plan, days))
    return Projection(
        day=today + timedelta(days=found.days),
        earliest=today + timedelta(days=found.early),
        latest=None if found.late is None else today + timedelta(days=found.late),
        basis=_basis(remaining, rate, found.spread, plan),
        is_measured=bool(found.spread.cases),
    )


def _days_to_use(thousandths: int, pieces: tuple[Stretch, ...]) -> int | None:
    """Whole days from today until the amount is used up; None where it never is."""
    left = thousandths
    for piece in pieces:
        capacity = None if piece.end is None else (piece.end - piece.start) * piece.thousandths
        if left == 0 or (piece.thousandths and (capacity is None or left < capacity)):
            return piece.start + (left // piece.thousandths if left else 0)
        left -= capacity or 0
    return None


def _why_no_day(remaining: Remaining, rate: Rate, plan: FlyingPlan | None, days: int | None) -> str:
    if days is not None:
        return "at this rate the limit is more than 20 years away"
    if plan is not None and plan.ranges:
        return "the flying plan never uses up what is left"
    if not rate.history_days and rate.fleet is None:
        return "nothing is known yet about its use"
    what = NAMES.get(remaining.measure, "use")
    return f"no {what} in the last {rate.history_days} days"


def _basis(remaining: Remaining, rate: Rate, spread: Spread, plan: FlyingPlan | None) -> str:
    """The arithmetic in words, for every screen, mail and page that shows the day."""
    measure = remaining.measure
    words = [f"{_amount(remaining.amount * 1000, measure)} left", _rate_words(rate, measure)]
    if plan is not None and plan.ranges:
        words.append("planned days count as planned")
    if spread.cases:
        words.append(f"80 % interval from {spread.cases} past forecasts of the fleet")
    else:
        words.append("interval assumed (half to twice the time), too few past forecasts to measure it")
    return "; ".join(words)


def _rate_words(rate: Rate, measure: Measure) -> str:
    used = f"{_amount(rate.used.get(measure, 0), measure)} a day"
    if rate.fleet is None:
        return f"{used} (own last {rate.history_days} days)"
    fleet = f"fleet of its type {_amount(rate.fleet.get(measure, 0), measure)}"
    if not rate.history_days:
        return f"{used} ({fleet}; no history of its own)"
    own = f"own last {rate.history_days} days {_amount(rate.own.get(measure, 0), measure)}"
    return f"{used} ({own}, weight {rate.own_percent()} %; {fleet})"


def _amount(thousandths: int, measure: Measure) -> str:
    if measure is Measure.HOURS:
        return hours(round(thousandths / 1000))
    count = f"{thousandths / 1000:.2f}".rstrip("0").rstrip(".")
    return quantity(count, NAMES.get(measure, measure.value))
