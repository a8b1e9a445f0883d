"""Items on columns move, one by one, to what the engine and the forecast say of them."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta
from random import Random
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from scheduling.due.arrays import CHUNK, COUNTERS, NONE, Ahead, Fleet, Items, moved
from scheduling.due.engine import paths_of
from scheduling.due.flying_plan import FlyingPlan, PlannedUse, flying_plan
from scheduling.due.forecast_errors import ErrorBand, ForecastErrors
from scheduling.due.levels import NO_DAY
from scheduling.due.parse import limits_from_data
from scheduling.due.terms import Facts, Limits, Mark, Measure
from scheduling.due.use import Rate, Regularity
from scheduling.gather.reckoned import fact_of, is_plain, reckon
from scheduling.gather.use import UseFacts
from scheduling.models import DueFact
from tests.pure.due.cases import engine_facts, random_facts, random_limits

CASES = int(os.environ.get("VERGLAS_CASES", "2000"))
NAMES = ("minutes", "landings", "cycles")
COLUMNS = (
    "soon_day",
    "unknown_day",
    "reached_day",
    "overdue_day",
    "projected_day",
    "earliest_day",
    "latest_day",
    "order_day",
)
TODAY = date(2026, 3, 2)


def rate_of(*per_day: int, regularity: Regularity = Regularity.REGULAR) -> Rate:
    """A rate of so many thousandths a day of each counter."""
    used = dict(zip(COUNTERS, per_day, strict=True))
    return Rate(used, used, None, 90, regularity)


def column(*values: int | None) -> np.ndarray:
    return np.array([NONE if value is None else value for value in values], np.int32)


def items_of(facts: Sequence[DueFact], owners: Sequence[int]) -> Items:
    """Rows of the due list as columns."""

    def rows(*names: str) -> np.ndarray:
        return np.stack([column(*[getattr(fact, name) for fact in facts]) for name in names])

    return Items(
        np.array(owners, np.intp),
        rows("due_day")[0],
        rows(*[f"due_{name}" for name in NAMES]),
        rows(*[f"soon_{name}" for name in NAMES]),
        rows(*[f"lawful_{name}" for name in NAMES]),
        rows(*COLUMNS[:4]),
    )


def one_item(
    shown: int, per_day: int, *, due: int, due_day: date | None = None, plan: FlyingPlan | None = None
) -> list[int]:
    """Projected, earliest, latest and order of an item due at so many minutes, soon ten hours before."""
    fact = DueFact(
        due_day=due_day and due_day.toordinal(),
        due_minutes=due,
        soon_minutes=due - 600,
        lawful_minutes=due,
        order_day=0,
    )
    ahead = Ahead((shown, 0, 0), rate_of(per_day, 0, 0), ForecastErrors(), TODAY, plan)
    found: list[int] = moved(items_of([fact], [0]), Fleet([ahead]))[4:, 0].tolist()
    return found


def test_an_item_projects_to_the_day_its_hours_are_used_up_half_to_twice_as_long_where_nothing_was_measured() -> (
    None
):
    today = TODAY.toordinal()
    assert one_item(59_000, 100_000, due=60_000) == [today + 10, today + 5, today + 20, today + 10]
    assert one_item(60_000, 100_000, due=60_000) == [today, today, today, 0]
    assert one_item(59_000, 0, due=60_000) == [NONE, NONE, NONE, NO_DAY]
    assert one_item(59_000, 100_000, due=60_000, due_day=TODAY) == [today, today, today, today]


def test_what_is_used_up_just_as_a_rest_begins_falls_on_the_first_day_of_the_rest() -> None:
    rest = flying_plan([PlannedUse(TODAY + timedelta(days=10), TODAY + timedelta(days=14), 0, 0, 0)])
    today = TODAY.toordinal()
    assert one_item(59_000, 100_000, due=60_000, plan=rest)[0] == today + 10
    assert one_item(59_000, 100_000, due=60_001, plan=rest)[0] == today + 15


def test_a_limit_twenty_years_away_gets_no_day() -> None:
    far = one_item(0, 1_000, due=7_305)
    assert far[0] == TODAY.toordinal() + 7_305
    assert one_item(0, 1_000, due=7_306) == [NONE, NONE, NONE, NO_DAY]


def random_bands(dice: Random) -> tuple[ErrorBand, ...]:
    """Bands as measured: at times none, at times with a late end not in sight."""
    horizons = [horizon for horizon in (7, 14, 28, 56) if dice.random() < 0.7]
    return tuple(
        ErrorBand(
            horizon,
            dice.uniform(0.3, 1.1),
            None if dice.random() < 0.2 else dice.uniform(1.1, 3.0),
            dice.randint(30, 400),
            dice.randint(0, 40),
        )
        for horizon in horizons
    )


def random_plan(dice: Random, today: date) -> FlyingPlan | None:
    """Now and then a plan of some stretches, some of them rests, the last at times for good."""
    if dice.random() < 0.6:
        return None
    cursor = today + timedelta(days=dice.randint(-20, 20))
    ranges = []
    for _ in range(dice.randint(1, 3)):
        last = cursor + timedelta(days=dice.randint(0, 30))
        minutes = dice.choice([0, 60, 100, 345])
        ranges.append(PlannedUse(cursor, last, minutes, dice.choice([None, 0, 3])))
        cursor = last + timedelta(days=dice.randint(1, 10))
    if dice.random() < 0.3:
        ranges[-1] = replace(ranges[-1], last=None)
    return flying_plan(ranges)


def random_use(dice: Random, today: date) -> UseFacts:
    per_day = [dice.choice([0, 1, 90_000, dice.randrange(1, 700_000)]), dice.choice([0, 500, 3_333]), 1_000]
    rate = rate_of(*per_day, regularity=dice.choice(list(Regularity)))
    bands = {
        (measure, group): random_bands(dice)
        for measure in COUNTERS
        for group in (*Regularity, None)
        if dice.random() < 0.7
    }
    return UseFacts(rate, ForecastErrors(bands), random_plan(dice, today))


def reckoned_row(limits: Limits, facts: Facts, use: UseFacts) -> DueFact:
    """The row the product keeps for an item of an aircraft when it reckons it from its facts."""
    words: dict[str, Any] = dict.fromkeys(("code", "title", "consequence", "ata"), "x")
    item: Any = SimpleNamespace(
        id=1,
        operator_id=1,
        aircraft=SimpleNamespace(id=1, type_id=1, base_id=1, registration="QX-SKA", now=facts.now),
        component=None,
        requirement=SimpleNamespace(limits=limits, **words),
        facts=facts,
        use=use,
    )
    return fact_of(reckon(item), datetime(2026, 3, 2, tzinfo=UTC))


def random_item(dice: Random) -> tuple[Limits, Facts]:
    """A plain requirement with a counter in it, and what is known of it; every counter is known."""
    while True:
        data = random_limits(dice)
        limits = limits_from_data(data)
        paths = [(path, limit.measure.value) for path, limit in paths_of(limits)]
        if is_plain(limits) and {"hours", "landings", "cycles"} & {measure for _, measure in paths}:
            facts = engine_facts(random_facts(dice, paths))
            if {"hours", "landings", "cycles"} <= set(facts.now.counters):
                return limits, facts


def flown(dice: Random, facts: Facts) -> Facts:
    """The same item after some flights."""
    more = {
        "hours": dice.choice([0, 63, 900]),
        "landings": dice.choice([0, 1, 40]),
        "cycles": dice.choice([0, 2, 90]),
    }
    counters = {name: value + more.get(name, 0) for name, value in facts.now.counters.items()}
    return replace(facts, now=Mark(facts.today, counters))


def ahead_of(facts: Facts, use: UseFacts) -> Ahead:
    minutes, landings, cycles = (facts.now.counters[measure.value] for measure in COUNTERS)
    return Ahead((minutes, landings, cycles), use.rate, use.errors, facts.today, use.plan)


def test_after_flights_and_with_new_rates_every_column_is_what_a_full_reckoning_finds() -> None:
    dice = Random(20260302)
    kept, fleet, expected = [], [], []
    while len(kept) < CASES:
        limits, facts = random_item(dice)
        before = reckoned_row(limits, facts, random_use(dice, facts.today))
        if before.is_complete:
            continue
        later, use = flown(dice, facts), random_use(dice, facts.today)
        kept.append(before)
        fleet.append(ahead_of(later, use))
        expected.append(reckoned_row(limits, later, use))
    found = moved(items_of(kept, range(len(kept))), Fleet(fleet))
    assert any(row.overdue_day == 0 for row in expected)
    assert any(row.latest_day is None and row.projected_day for row in expected)
    for number, row in enumerate(expected):
        wanted = column(*[getattr(row, name) for name in COLUMNS]).tolist()
        assert found[:, number].tolist() == wanted, (fleet[number], vars(kept[number]))


def test_more_rows_than_a_piece_holds_are_judged_like_few() -> None:
    fact = DueFact(due_minutes=60_000, soon_minutes=59_400, lawful_minutes=60_000, order_day=0)
    fleet = Fleet(
        [Ahead((shown, 0, 0), rate_of(100_000, 0, 0), ForecastErrors(), TODAY) for shown in (59_000, 61_000)]
    )
    one = items_of([fact, fact], [0, 1])
    many = Items(*(np.tile(getattr(one, each.name), CHUNK) for each in fields(one)))
    assert (moved(many, fleet) == np.tile(moved(one, fleet), CHUNK)).all()


@pytest.mark.parametrize("amount", [1, 999, 123_457, 599_999_999])
def test_whole_days_are_exact_where_floats_could_round_up(amount: int) -> None:
    for per_day in (1, 3, 7, 333, 99_991, 1_440_000):
        expected = amount * 1000 // per_day
        day = one_item(0, per_day, due=amount)[0]
        assert day == (NONE if expected > 7_305 else TODAY.toordinal() + expected)


def test_measures_stand_in_the_order_of_the_columns() -> None:
    assert COUNTERS == (Measure.HOURS, Measure.LANDINGS, Measure.CYCLES)
