"""The due items of a large fleet on columns: `python tests/benchmarks/bench_due_arrays.py [AIRCRAFT REQUIREMENTS]`.

A1: moving every item to its aircraft's counters and rates, as a flight and a morning's new rates do (how it stands,
when it probably falls due with both ends of the interval, and its place), and sorting, against one numpy pass that
reads eight 64-bit columns of as many rows and writes eight fresh ones (`column + 1`); all in this run, medians of
interleaved rounds. Beside it the harshest reading of the same limit: the columns are 32-bit and the arrays written to
are used again, so that no memory is asked for. A5: every column of every row, and every place in the order, against a
plain reference, one object at a time; the tests compare with the due engine itself. Drawn with a fixed seed.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from scheduling.due.arrays import COUNTERS, LONGEST, NONE, Ahead, Fleet, Ints, Items, moved
from scheduling.due.forecast_errors import ErrorBand, ForecastErrors
from scheduling.due.levels import NO_DAY, NOT_KNOWN
from scheduling.due.use import Rate, Regularity
from tests.benchmarks.due_reference import Interval, PlainItem, PlainLimit, answer

TODAY = date(2026, 3, 2)
SEED = 400
ROUNDS = 15
SHARES = (0.6, 0.25, 0.15)
"""How many items have a limit by hours, landings, cycles."""
INTERVALS = ((3000, 6000, 12_000, 36_000, 120_000), (100, 300, 1000, 5000), (100, 500, 2000))
FACTORS = ((7, 0.55, 1.9), (14, 0.6, 1.7), (28, 0.7, None), (56, 0.75, 1.4))


@dataclass(frozen=True, slots=True)
class Scene:
    """Aircraft, as objects and as columns, and every requirement on each of them."""

    aircraft: list[Ahead]
    fleet: Fleet
    items: Items


def make_aircraft(rng: np.random.Generator, aircraft: int) -> list[Ahead]:
    """What each aircraft's counters show and how much it flies, one in three of each regularity; a few stand still."""
    bands = {
        (measure, regularity): tuple(
            ErrorBand(horizon, low + 0.01 * shift, high, 300, 20) for horizon, low, high in FACTORS
        )
        for measure in COUNTERS
        for shift, regularity in enumerate(Regularity)
    }
    errors = ForecastErrors(bands)
    found = []
    for number in range(aircraft):
        shown = (
            int(rng.integers(6000, 900_000)),
            int(rng.integers(100, 30_000)),
            int(rng.integers(100, 30_000)),
        )
        flies = int(rng.random() >= 0.03)
        used = {
            measure: flies * int(rng.integers(*span))
            for measure, span in zip(COUNTERS, ((20_000, 500_000), (500, 8000), (500, 8000)), strict=True)
        }
        rate = Rate(used, used, None, 90, list(Regularity)[number % len(Regularity)])
        found.append(Ahead(shown, rate, errors, TODAY))
    return found


def make_scene(aircraft: int, requirements: int) -> Scene:
    """A mixed programme: four in five with a calendar limit, hours, landings, cycles, some of them past."""
    rng = np.random.default_rng(SEED)
    fleet = make_aircraft(rng, aircraft)
    rows = aircraft * requirements
    owner = np.repeat(np.arange(aircraft, dtype=np.intp), requirements)
    day = TODAY.toordinal() + rng.integers(-10, 720, rows)
    has_day = rng.random(rows) < 0.8
    due, soon, lawful = (np.full((3, rows), NONE) for _ in range(3))
    for place, (share, pool) in enumerate(zip(SHARES, INTERVALS, strict=True)):
        some = np.flatnonzero(rng.random(rows) < share)
        interval = rng.choice(pool, some.size)
        shown = np.array([one.shown[place] for one in fleet])[owner[some]]
        due[place, some] = shown + interval - (rng.random(some.size) * 1.03 * interval).astype(np.int64)
        soon[place, some] = due[place, some] - interval // 5
        lawful[place, some] = due[place, some] + rng.choice([0, 0, 0, 1], some.size) * (interval // 10)
    none = np.int64(NONE)
    stands = np.stack([
        np.where(has_day, day - 30, none), np.where(has_day, day, none), np.where(has_day, day, none),
        np.where(has_day, day + 1, none),
    ]).astype(np.int32)  # fmt: skip
    return Scene(
        fleet,
        Fleet(fleet),
        Items(owner, np.where(has_day, day, none).astype(np.int32), due, soon, lawful, stands),
    )


def order_of(places: Ints) -> np.ndarray:
    """Row numbers by their places, rows that tie in their own order; by radix, as places lie close together."""
    is_day = places > NOT_KNOWN
    shift = np.where(is_day, places, np.int32(NO_DAY)).min() - np.int32(NOT_KNOWN + 1)
    key = np.where(is_day, np.minimum(places - shift, np.int32(2**16 - 1)), places)
    return np.argsort(key.astype(np.uint16), kind="stable")


def fresh_pass(columns: list[np.ndarray]) -> list[np.ndarray]:
    """Read eight columns and write eight new ones: what one numpy step over them costs."""
    return [column + 1 for column in columns]


def reused_pass(columns: list[np.ndarray], out: list[np.ndarray]) -> None:
    """The same into arrays that are already there."""
    for column, target in zip(columns, out, strict=True):
        np.add(column, 1, out=target)


def interleaved(jobs: dict[str, Callable[[], object]]) -> dict[str, float]:
    """Median milliseconds of each job, the jobs taking turns."""
    times: dict[str, list[float]] = {name: [] for name in jobs}
    for _ in range(ROUNDS):
        for name, job in jobs.items():
            began = time.perf_counter()
            job()
            times[name].append((time.perf_counter() - began) * 1000)
    return {name: median(series[1:]) for name, series in times.items()}


def whole_run(scene: Scene) -> tuple[Ints, np.ndarray]:
    """All columns anew, and the order of the list."""
    found = moved(scene.items, scene.fleet)
    return found, order_of(found[7])


def compare_speed(scene: Scene) -> dict[str, float]:
    """Milliseconds of the plain passes and of the columns, measured in turn; printed as ratios."""
    source = [*scene.items.due, *scene.items.soon_at, *scene.items.stands[:2]]
    wide, narrow = [column.astype(np.int64) for column in source], [column.copy() for column in source]
    out = [np.empty_like(column) for column in narrow]
    took = interleaved(
        {
            "pass": lambda: fresh_pass(wide),
            "reused": lambda: reused_pass(narrow, out),
            "whole": lambda: whole_run(scene),
        }
    )
    print(f"numpy pass, {len(wide)} 64-bit columns read and written fresh: {took['pass']:.2f} ms")
    print(f"numpy pass, {len(narrow)} 32-bit columns read and written in place: {took['reused']:.2f} ms")
    print(
        f"A1 moved and sorted: {took['whole']:.1f} ms = {took['whole'] / took['pass']:.1f}x the pass "
        f"(goal 6; {took['whole'] / took['reused']:.0f}x the pass in place)"
    )
    return took


def plain(value: int) -> int | None:
    return None if value == NONE else int(value)


def plain_item(items: Items, row: int) -> PlainItem:
    """One row as an object."""
    day = plain(items.due_day[row])
    limits = [
        None if due == NONE else PlainLimit(int(due), int(items.soon_at[place, row]), int(items.lawful_at[place, row]))
        for place, due in enumerate(items.due[:, row])
    ]  # fmt: skip
    return PlainItem(
        date.fromordinal(day) if day else None, limits, *[plain(one) for one in items.stands[:, row]]
    )


def intervals_of(ahead: Ahead) -> list[list[Interval]]:
    """The interval's factors by counter and days ahead; for no days those of one."""
    spreads = [ahead.errors.spreads(measure, ahead.rate.regularity) for measure in COUNTERS]
    return [
        [Interval(one.low, one.high) for one in (each.at(max(days, 1)) for days in range(LONGEST + 1))]
        for each in spreads
    ]


def disagreements(scene: Scene, found: Ints, order: np.ndarray) -> int:
    """Rows with a column, and places in the order, that differ from the plain reference."""
    wrong, places = 0, []
    intervals = [intervals_of(ahead) for ahead in scene.aircraft[: len(Regularity)]]
    for row, owner in enumerate(scene.items.aircraft.tolist()):
        ahead = scene.aircraft[owner]
        per_day = [ahead.rate.used[measure] for measure in COUNTERS]
        expected = answer(
            plain_item(scene.items, row), ahead.shown, per_day, intervals[owner % len(Regularity)], TODAY
        )
        ours = [plain(value) for value in found[:, row]]
        days = [None if day is None else date.fromordinal(day) for day in ours[4:7]]
        wrong += (*ours[:4], *days, ours[7]) != expected
        places.append((expected[7], row))
    return wrong + sum(ours != row for ours, (_, row) in zip(order.tolist(), sorted(places), strict=True))


def main(arguments: list[str]) -> int:
    """Print A1 and A5; leave with 1 where a row disagrees."""
    aircraft, requirements = (int(arguments[0]), int(arguments[1])) if len(arguments) == 2 else (1000, 400)
    scene = make_scene(aircraft, requirements)
    rows = scene.items.due_day.size
    print(
        f"{aircraft} aircraft x {requirements} requirements = {rows} rows; medians of {ROUNDS - 1}, interleaved"
    )
    took = compare_speed(scene)
    tracemalloc.start()
    found, order = whole_run(scene)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"memory at the peak beyond the input: {peak / rows:.0f} bytes a row")
    _, _, reached, overdue, likely, _, latest, _ = found
    counted = {
        "reached by a counter": reached == 0,
        "overdue by one": overdue == 0,
        "without a day": likely == NONE,
        "late end out of sight": (latest == NONE) & (likely < NONE),
    }
    print(", ".join(f"{words} {int(rows.sum())}" for words, rows in counted.items()))
    began = time.perf_counter()
    wrong = disagreements(scene, found, order)
    objects = (time.perf_counter() - began) * 1000
    print(f"A5 rows or places that disagree with the plain reference: {wrong} of {rows}")
    print(f"plain reference: {objects:.0f} ms = {objects / took['whole']:.0f}x the columns")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
