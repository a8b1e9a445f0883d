"""The due list of a large fleet on columns: `python tests/benchmarks/bench_due_arrays.py [AIRCRAFT REQUIREMENTS]`.

A1: reckoning and sorting against one numpy pass that reads eight 64-bit columns of as many rows and writes eight
fresh ones (`column + 1`), all in this run, medians of interleaved rounds. Given twice: with due points stored, and
from last-done points and intervals (months by the calendar). Beside it the harshest reading of the same limit: the
columns are 32-bit and the arrays written to are used again, so that no memory is asked for. A5: every row and every
place in the order against the plain reference, one object at a time; the tests compare with the due engine itself.
The data are drawn with a fixed seed.
"""

from __future__ import annotations

import sys
import time
import tracemalloc
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from scheduling.due.arrays import (
    ABSENT,
    NO_DAY,
    NONE_GOVERNS,
    STATES,
    Counters,
    DueColumns,
    DueStates,
    IntervalRules,
    Rules,
    due_from,
    month_rules,
    states_of,
)
from scheduling.due.terms import MonthRule
from tests.benchmarks.due_reference import PlainLimit, answer, months_later

TODAY = date(2026, 3, 2)
SEED = 400
ROUNDS = 15


@dataclass(frozen=True, slots=True)
class Programme:
    """The fleet: last-done points by row, intervals and warnings by requirement, counters by aircraft."""

    base: np.ndarray
    aircraft: np.ndarray
    rule: np.ndarray
    intervals: IntervalRules
    month_rules: list[MonthRule | None]
    rules: Rules
    counters: Counters


def make_counters(rng: np.random.Generator, aircraft: int) -> tuple[np.ndarray, np.ndarray]:
    """What each aircraft's meters show and how fast they run; a few stand still."""
    now = np.stack([
        rng.integers(6000, 900_000, aircraft), rng.integers(100, 30_000, aircraft), rng.integers(100, 30_000, aircraft)
    ]).astype(np.int32)  # fmt: skip
    per_day = np.stack([
        rng.integers(20_000, 500_000, aircraft), rng.integers(500, 8000, aircraft), rng.integers(500, 8000, aircraft)
    ]).astype(np.int32)  # fmt: skip
    per_day[:, rng.random(aircraft) < 0.03] = 0
    return now, per_day


def make_programme(aircraft: int, requirements: int) -> Programme:
    """A mixed programme: nine in ten whichever first, months and days, hours, landings, cycles, some standing still."""
    rng = np.random.default_rng(SEED)
    month_kinds = [(None, MonthRule.SAME_DAY, MonthRule.END_OF_MONTH)[n % 3] for n in range(requirements)]
    calendar = np.where(
        [kind is None for kind in month_kinds],
        rng.choice([30, 90, 180, 400], requirements),
        rng.choice([1, 3, 6, 12, 24, 36], requirements),
    )
    amount = np.stack([
        calendar,
        rng.choice([3000, 6000, 12_000, 36_000, 120_000], requirements),
        rng.choice([100, 300, 1000, 5000], requirements),
        rng.choice([100, 500, 2000], requirements),
    ]).astype(np.int32)  # fmt: skip
    present = rng.random(amount.shape) < np.array([[0.8], [0.6], [0.25], [0.15]])
    present[0] |= ~present.any(axis=0)
    amount *= present
    days = np.where([kind is None for kind in month_kinds], amount[0], amount[0] * 30)
    size = np.maximum(np.stack([days, *amount[1:]]), 1).astype(np.int32)
    usual = np.array([[30], [1500], [25], [25]])
    soon = np.minimum(usual, np.maximum(size // 5, 1)).astype(np.int32)
    slack = (rng.choice([0, 0, 0, 1], (4, requirements)) * (size // 10)).astype(np.int32)
    rules = Rules(soon, slack, size, rng.random(requirements) < 0.1)
    now, per_day = make_counters(rng, aircraft)
    rows = np.arange(aircraft * requirements, dtype=np.int32)
    owner, rule = rows // requirements, rows % requirements
    gone = rng.random((4, rows.size)) * 1.03
    gone[0] -= 0.02
    base = np.empty((4, rows.size), np.int32)
    base[0] = TODAY.toordinal() - (gone[0] * days[rule]).astype(np.int32)
    for kind in range(1, 4):
        base[kind] = now[kind - 1][owner] - (gone[kind] * amount[kind][rule]).astype(np.int32)
    intervals = IntervalRules(amount, *month_rules(month_kinds))
    return Programme(base, owner, rule, intervals, month_kinds, rules, Counters(now, per_day))


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


def reference_row(programme: Programme, row: int) -> tuple[int, int | None, date | None]:
    """One row, from its last-done point and interval, with plain objects."""
    rule, aircraft = int(programme.rule[row]), int(programme.aircraft[row])
    rules, counters = programme.rules, programme.counters
    limits = []
    for kind in range(4):
        amount = int(programme.intervals.amount[kind, rule])
        if not amount:
            continue
        base = int(programme.base[kind, row])
        due: date | int = base + amount
        month_rule = programme.month_rules[rule]
        if not kind and month_rule is None:
            due = date.fromordinal(base + amount)
        elif not kind:
            done = date.fromordinal(base)
            due = months_later(done, done, amount, to_month_end=month_rule is MonthRule.END_OF_MONTH)
        soon, slack, size = (int(table[kind, rule]) for table in (rules.soon, rules.slack, rules.size))
        limits.append(PlainLimit(kind, due, soon, slack, size))
    now = [int(value) for value in counters.now[:, aircraft]]
    per_day = [int(value) for value in counters.per_day[:, aircraft]]
    found = answer(limits, now, per_day, TODAY, is_last=bool(rules.is_last[rule]))
    return found.state, found.governing, found.day


def disagreements(programme: Programme, found: DueStates) -> int:
    """Rows, and places in the order, that differ from the plain reference."""
    wrong = 0
    keys = []
    for row in range(programme.rule.size):
        expected = reference_row(programme, row)
        governing = int(found.governing[row])
        day = int(found.day[row])
        ours = (
            int(found.state[row]),
            None if governing == NONE_GOVERNS else governing,
            None if day == NO_DAY else date.fromordinal(day),
        )
        wrong += ours != expected
        keys.append((-expected[0], expected[2] or date.max, row))
    order = [row for _, _, row in sorted(keys)]
    return wrong + sum(ours != theirs for ours, theirs in zip(found.order.tolist(), order, strict=True))


def whole_run(programme: Programme) -> DueStates:
    """From last done and intervals to states in order."""
    due = due_from(programme.base, programme.base[0], programme.rule, programme.intervals)
    columns = DueColumns(due, programme.aircraft, programme.rule)
    return states_of(columns, programme.rules, programme.counters, TODAY)


def compare_speed(programme: Programme, due: np.ndarray) -> dict[str, float]:
    """Milliseconds of the plain passes and of both ways through the columns, measured in turn; printed as ratios."""
    columns = DueColumns(due, programme.aircraft, programme.rule)
    wide = [column.astype(np.int64) for column in (*due, *programme.base)]
    narrow = [column.copy() for column in (*due, *programme.base)]
    out = [np.empty_like(column) for column in narrow]
    took = interleaved(
        {
            "pass": lambda: fresh_pass(wide),
            "reused": lambda: reused_pass(narrow, out),
            "stored": lambda: states_of(columns, programme.rules, programme.counters, TODAY),
            "whole": lambda: whole_run(programme),
        }
    )
    print(f"numpy pass, {len(wide)} 64-bit columns read and written fresh: {took['pass']:.2f} ms")
    print(f"numpy pass, {len(narrow)} 32-bit columns read and written in place: {took['reused']:.2f} ms")
    for name, words in (("stored", "due points stored"), ("whole", "from last done and intervals")):
        print(
            f"A1 {words}: {took[name]:.1f} ms = {took[name] / took['pass']:.1f}x the pass "
            f"(goal 6; {took[name] / took['reused']:.0f}x the pass in place)"
        )
    return took


def main(arguments: list[str]) -> int:
    """Print A1 and A5; leave with 1 where a row disagrees."""
    aircraft, requirements = (int(arguments[0]), int(arguments[1])) if len(arguments) == 2 else (1000, 400)
    programme = make_programme(aircraft, requirements)
    due = due_from(programme.base, programme.base[0], programme.rule, programme.intervals)
    rows = programme.rule.size
    print(
        f"{aircraft} aircraft x {requirements} requirements = {rows} rows; medians of {ROUNDS - 1}, interleaved"
    )
    took = compare_speed(programme, due)
    tracemalloc.start()
    found = whole_run(programme)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    print(f"memory at the peak beyond the input: {peak / rows:.0f} bytes a row")
    counts = Counter(STATES[code].value for code in found.state.tolist())
    print("states: " + ", ".join(f"{name} {count}" for name, count in counts.most_common()))
    absent, dateless = int((due == ABSENT).sum()), int((found.day == NO_DAY).sum())
    print(f"limits absent: {absent}; rows without a day: {dateless}")
    began = time.perf_counter()
    wrong = disagreements(programme, found)
    plain = (time.perf_counter() - began) * 1000
    print(f"A5 rows or places that disagree with the plain reference: {wrong} of {rows}")
    print(f"plain reference: {plain:.0f} ms = {plain / took['whole']:.0f}x the columns")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
