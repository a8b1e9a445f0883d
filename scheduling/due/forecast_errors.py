"""How far the fleet's own forecasts missed lately: the source of every projection's interval. Pure, floats allowed.

Every week of the last 150 days is asked again, with what was known then: "at this rate, when will 7, 14, 28, 56
days' worth be used up?" The ratio of actual to forecast time is collected; cases not yet finished count as still
open (Kaplan and Meier 1958), so that recent slow flying is not overlooked.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import accumulate

from scheduling.due.terms import Measure
from scheduling.due.use import FLOWN, WINDOW_DAYS, Regularity, UseHistory, blend, regularity_for

LOOK_BACK_DAYS = 150
ORIGIN_STEP_DAYS = 7
LEAST_HISTORY_DAYS = 30
LEAST_CLOSED_CASES = 30
HORIZONS = (7, 14, 28, 56)
LOW_TAIL = 0.1
HIGH_TAIL = 0.9
ASSUMED_LOW = 0.5
ASSUMED_HIGH = 2.0


@dataclass(frozen=True, slots=True)
class Case:
    """One past forecast: actual over forecast time, or how far it has got where it is still open."""

    ratio: float
    is_closed: bool


@dataclass(frozen=True, slots=True)
class ErrorBand:
    """The middle 80 % of actual / forecast for forecasts of about `horizon` days; `high` None: not in sight yet."""

    horizon: int
    low: float
    high: float | None
    closed: int
    still_open: int


@dataclass(frozen=True, slots=True)
class Spread:
    """By which factors a forecast may be early or late, and how many past forecasts say so (0: assumed)."""

    low: float
    high: float | None
    cases: int


class Spreads(dict[float, Spread]):
    """The spreads of one measure and regularity by horizon, remembered: a fleet's items ask for the same few."""

    def __init__(self, bands: Sequence[ErrorBand]) -> None:
        super().__init__()
        self.bands = bands

    def at(self, horizon: float) -> Spread:
        """The factors for a forecast of `horizon` days, between bands by the logarithm of the horizon.

        Beyond the shortest and longest band the nearest one holds; without any: half to twice, assumed.
        """
        return self[horizon if horizon < HORIZONS[-1] else HORIZONS[-1]]

    def __missing__(self, horizon: float) -> Spread:
        found = self[horizon] = self._between_bands(horizon)
        return found

    def _between_bands(self, horizon: float) -> Spread:
        bands = self.bands
        if not bands:
            return Spread(ASSUMED_LOW, ASSUMED_HIGH, 0)
        below = max((band for band in bands if band.horizon <= horizon), default=bands[0], key=_horizon)
        above = min((band for band in bands if band.horizon >= horizon), default=bands[-1], key=_horizon)
        share = _share(below.horizon, above.horizon, horizon)
        low = _between(below.low, above.low, share)
        is_open = below.high is None or above.high is None
        high = None if is_open else _between(below.high or 1.0, above.high or 1.0, share)
        return Spread(low, high, min(below.closed + below.still_open, above.closed + above.still_open))


@dataclass(frozen=True, slots=True)
class ForecastErrors:
    """The bands by measure and regularity, shortest horizon first; regularity None: all aircraft together."""

    bands: Mapping[tuple[Measure, Regularity | None], tuple[ErrorBand, ...]] = field(default_factory=dict)
    known: dict[tuple[Measure, Regularity], Spreads] = field(default_factory=dict, compare=False, repr=False)

    def spreads(self, measure: Measure, regularity: Regularity) -> Spreads:
        """The spreads of one measure; an aircraft whose like has made too few forecasts takes those of all."""
        found = self.known.get((measure, regularity))
        if found is None:
            bands = self.bands.get((measure, regularity)) or self.bands.get((measure, None), ())
            found = self.known[measure, regularity] = Spreads(bands)
        return found


def _horizon(band: ErrorBand) -> int:
    return band.horizon


def _share(below: int, above: int, horizon: float) -> float:
    return 0.0 if below == above else math.log(horizon / below) / math.log(above / below)


def _between(below: float, above: float, share: float) -> float:
    return math.exp((1 - share) * math.log(below) + share * math.log(above))


def kaplan_meier_quantiles(cases: Iterable[Case], shares: Sequence[float]) -> tuple[float | None, ...]:
    """The ratios by which each of the ascending `shares` of cases had ended, None where open cases hide it.

    Ratios 1, 2, 3, 4 all closed, share 0.5: 2. With 3 and 4 still open, share 0.9: None.
    """
    ordered = sorted(cases, key=lambda case: (case.ratio, not case.is_closed))
    at_risk = len(ordered)
    surviving = 1.0
    found: list[float | None] = []
    for case in ordered:
        if case.is_closed:
            surviving *= 1 - 1 / at_risk
            while len(found) < len(shares) and 1 - surviving >= shares[len(found)] - 1e-12:
                found.append(case.ratio)
            if len(found) == len(shares):
                break
        at_risk -= 1
    return (*found, *(None for _ in range(len(shares) - len(found))))


@dataclass(frozen=True, slots=True)
class _Track:
    """Running totals of one aircraft: `totals[i]` is what the first i days used, `flown[i]` days flown in them."""

    first_day: date
    totals: tuple[int, ...]
    flown: tuple[int, ...]

    def asked(self, origin: date) -> _Asked | None:
        """What would have been known at the origin, or None without use or with too short a history."""
        end = (origin - self.first_day).days
        days = min(WINDOW_DAYS, end)
        if days < LEAST_HISTORY_DAYS or end >= len(self.totals):
            return None
        own = (self.totals[end] - self.totals[end - days]) / days
        share = (self.flown[end] - self.flown[end - days]) / days
        return _Asked(self, end, own, days, regularity_for(share)) if own else None


@dataclass(frozen=True, slots=True)
class _Asked:
    """One aircraft on one past morning."""

    track: _Track
    start: int
    own: float
    days: int
    regularity: Regularity

    def case(self, per_day: float, horizon: int) -> Case:
        """How the forecast of `horizon` days at that rate went, the last day in proportion."""
        totals = self.track.totals
        target = totals[self.start] + per_day * horizon
        day = bisect_left(totals, target, self.start + 1)
        if day == len(totals):
            return Case((day - 1 - self.start) / horizon, is_closed=False)
        within = (target - totals[day - 1]) / (totals[day] - totals[day - 1])
        return Case((day - 1 - self.start + within) / horizon, is_closed=True)


def forecast_errors(
    histories: Sequence[UseHistory], as_of: date, measures: Iterable[Measure] = FLOWN
) -> ForecastErrors:
    """The errors of the forecasts of the last 150 days, as known before `as_of`; later days are never read.

    `histories` are the aircraft of one type. An aircraft at a steady 100 minutes a day gives ratios of 1.
    """
    bands: dict[tuple[Measure, Regularity | None], tuple[ErrorBand, ...]] = {}
    for measure in measures:
        groups = _cases_by_group(histories, as_of, measure)
        bands |= {(measure, group): _bands(cases) for group, cases in groups.items()}
    return ForecastErrors(bands)


def _track(history: UseHistory, as_of: date, measure: Measure) -> _Track:
    end = history.days_before(as_of)
    totals = tuple(accumulate(history.daily[measure][:end], initial=0))
    return _Track(
        history.first_day, totals, tuple(accumulate(history.daily[Measure.FLIGHT_DAYS][:end], initial=0))
    )


def _cases_by_group(
    histories: Sequence[UseHistory], as_of: date, measure: Measure
) -> dict[Regularity | None, dict[int, list[Case]]]:
    """The cases of each horizon for every regularity, and under None for all of them together."""
    tracks = [_track(history, as_of, measure) for history in histories]
    found: dict[Regularity | None, dict[int, list[Case]]] = {
        group: {horizon: [] for horizon in HORIZONS} for group in (*Regularity, None)
    }
    for back in range(ORIGIN_STEP_DAYS, LOOK_BACK_DAYS + 1, ORIGIN_STEP_DAYS):
        origin = as_of - timedelta(days=back)
        every = [asked for track in tracks if (asked := track.asked(origin)) is not None]
        for regularity in Regularity:
            _collect([asked for asked in every if asked.regularity is regularity], found[regularity])
    for horizon in HORIZONS:
        found[None][horizon] = [case for regularity in Regularity for case in found[regularity][horizon]]
    return found


def _collect(members: Sequence[_Asked], cases: dict[int, list[Case]]) -> None:
    """Add how the forecasts of one morning went, each leaned towards those that flew as steadily then."""
    if not members:
        return
    fleet = sum(asked.own for asked in members) / len(members)
    for asked in members:
        per_day = blend(asked.own, fleet, asked.days)
        for horizon in HORIZONS:
            cases[horizon].append(asked.case(per_day, horizon))


def _bands(cases: Mapping[int, Sequence[Case]]) -> tuple[ErrorBand, ...]:
    bands = (_band(horizon, cases[horizon]) for horizon in HORIZONS)
    return tuple(band for band in bands if band is not None)


def _band(horizon: int, cases: Sequence[Case]) -> ErrorBand | None:
    closed = sum(case.is_closed for case in cases)
    low, high = kaplan_meier_quantiles(cases, (LOW_TAIL, HIGH_TAIL))
    if closed < LEAST_CLOSED_CASES or not low:
        return None
    return ErrorBand(horizon, low, high, closed, len(cases) - closed)
