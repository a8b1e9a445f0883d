"""The fleet on columns gives, row by row, what the engine and plain arithmetic give."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import pytest

from scheduling.due.arrays import (
    ABSENT,
    KINDS,
    MISSING,
    NO_DAY,
    NONE_GOVERNS,
    STATES,
    Counters,
    DueColumns,
    IntervalRules,
    Rules,
    add_months,
    due_from,
    month_rules,
    states_of,
    urgency_order,
)
from scheduling.due.engine import DAYS_OF_A_MONTH, bare_due_of
from scheduling.due.forecast import NoDate, Projection, Remaining, project
from scheduling.due.forecast_errors import ForecastErrors
from scheduling.due.terms import (
    Amount,
    Combine,
    Facts,
    Group,
    Limit,
    Mark,
    Measure,
    MonthRule,
    Since,
    Variation,
)
from scheduling.due.use import Rate, Regularity
from tests.benchmarks.due_reference import PlainLimit, answer, months_later

TODAY = date(2026, 3, 2)
COUNTED = (Measure.HOURS, Measure.LANDINGS, Measure.CYCLES)


def rules_of(*rows: tuple[tuple[int, int, int, int], tuple[int, int, int, int], bool]) -> Rules:
    """Rules of (soon, slack, whichever last); sizes of 100."""
    soon = np.array([row[0] for row in rows], np.int32).T
    slack = np.array([row[1] for row in rows], np.int32).T
    return Rules(
        soon, slack, np.full(soon.shape, 100, np.int32), np.array([row[2] for row in rows], np.bool_)
    )


def one_row(due: list[int], rules: Rules, now: list[int], per_day: list[int]) -> tuple[str, int, int]:
    """State word, governing kind and day of a single row."""
    columns = DueColumns(np.array(due, np.int32).reshape(4, 1), np.zeros(1, np.int32), np.zeros(1, np.int32))
    counters = Counters(np.array(now, np.int32).reshape(3, 1), np.array(per_day, np.int32).reshape(3, 1))
    found = states_of(columns, rules, counters, TODAY)
    return STATES[found.state[0]].value, int(found.governing[0]), int(found.day[0])


def test_the_nearest_of_the_most_urgent_limits_governs() -> None:
    rules = rules_of(((20, 1500, 25, 0), (0, 0, 0, 0), False))
    due = [date(2026, 3, 31).toordinal(), 81000, 2400, ABSENT]
    found = one_row(due, rules, [78744, 2399, 0], [180_000, 2_000, 0])
    assert found == ("due_soon", KINDS.index(Measure.LANDINGS), TODAY.toordinal())


def test_nothing_left_is_due_and_past_the_lawful_point_is_overdue() -> None:
    rules = rules_of(((0, 0, 0, 0), (0, 600, 0, 0), False))
    assert one_row([ABSENT, 6000, ABSENT, ABSENT], rules, [6000, 0, 0], [0, 0, 0])[0] == "due"
    assert one_row([ABSENT, 6000, ABSENT, ABSENT], rules, [6600, 0, 0], [0, 0, 0])[0] == "due"
    assert one_row([ABSENT, 6000, ABSENT, ABSENT], rules, [6601, 0, 0], [0, 0, 0])[0] == "overdue"


def test_a_missing_fact_is_unknown_and_no_limit_at_all_is_complete() -> None:
    rules = rules_of(((0, 0, 0, 0), (0, 0, 0, 0), False))
    unknown = one_row([ABSENT, MISSING, ABSENT, ABSENT], rules, [0, 0, 0], [0, 0, 0])
    assert unknown == ("unknown", 1, int(NO_DAY))
    complete = one_row([ABSENT] * 4, rules, [0, 0, 0], [0, 0, 0])
    assert complete == ("complete", int(NONE_GOVERNS), int(NO_DAY))


def test_an_aircraft_that_stands_still_gets_no_day_for_its_hours() -> None:
    rules = rules_of(((0, 0, 0, 0), (0, 0, 0, 0), False))
    assert one_row([ABSENT, 6000, ABSENT, ABSENT], rules, [0, 0, 0], [0, 0, 0])[2] == NO_DAY


def test_limits_that_are_equally_near_are_governed_in_the_order_of_their_kinds() -> None:
    rules = rules_of(((0, 0, 0, 0), (0, 0, 0, 0), False), ((0, 0, 0, 0), (0, 0, 0, 0), True))
    due = np.array([[date(2026, 3, 12).toordinal()] * 2, [1000] * 2, [20] * 2, [ABSENT] * 2], np.int32)
    counters = Counters(np.zeros((3, 1), np.int32), np.array([[100_000], [2_000], [0]], np.int32))
    columns = DueColumns(due, np.zeros(2, np.int32), np.array([0, 1], np.int32))
    assert states_of(columns, rules, counters, TODAY).governing.tolist() == [0, 0]


def test_on_the_same_day_the_limit_that_comes_some_hours_earlier_governs() -> None:
    rules = rules_of(((0, 0, 0, 0), (0, 0, 0, 0), False))
    assert one_row([ABSENT, 1090, 21, ABSENT], rules, [0, 0, 0], [100_000, 2_000, 0]) == (
        "ok",
        2,
        date(2026, 3, 12).toordinal(),
    )


def test_whichever_last_waits_for_the_later_limit() -> None:
    rules = rules_of(((10, 0, 0, 0), (0, 0, 0, 0), True))
    due = [date(2026, 2, 20).toordinal(), 6000, ABSENT, ABSENT]
    found = one_row(due, rules, [0, 0, 0], [100_000, 0, 0])
    assert found == ("ok", 1, date(2026, 5, 1).toordinal())


def test_more_than_two_thousand_million_thousandths_do_not_overflow() -> None:
    rules = rules_of(((0, 0, 0, 0), (0, 0, 0, 0), False))
    found = one_row([ABSENT, 4_000_000, ABSENT, ABSENT], rules, [1_000_000, 0, 0], [1_440_000, 0, 0])
    assert found[2] == TODAY.toordinal() + 2083


def test_negative_warnings_are_refused() -> None:
    with pytest.raises(ValueError, match="negative"):
        rules_of(((-1, 0, 0, 0), (0, 0, 0, 0), False))


def test_the_order_is_state_then_day_then_row() -> None:
    state = np.array([1, 5, 1, 5, 0, 1], np.uint8)
    day = np.array([900, 700, 800, 700, NO_DAY, 70_800], np.int32)
    assert urgency_order(state, day).tolist() == [1, 3, 2, 0, 5, 4]


def test_the_order_is_that_of_a_plain_stable_sort() -> None:
    rng = np.random.default_rng(5)
    state = rng.integers(0, 6, 50_000).astype(np.uint8)
    day = rng.integers(739_000, 741_000, 50_000).astype(np.int32)
    day[rng.random(50_000) < 0.1] = NO_DAY
    expected = sorted(range(50_000), key=lambda row: (-int(state[row]), int(day[row]), row))
    assert urgency_order(state, day).tolist() == expected


@pytest.mark.parametrize(
    ("base", "anchor", "months", "to_end", "expected"),
    [
        (date(2025, 1, 31), date(2025, 1, 31), 1, False, date(2025, 2, 28)),
        (date(2025, 2, 28), date(2025, 1, 31), 1, False, date(2025, 3, 31)),
        (date(2024, 2, 29), date(2024, 2, 29), 12, False, date(2025, 2, 28)),
        (date(2024, 2, 29), date(2024, 2, 29), 12, True, date(2025, 2, 28)),
        (date(2023, 2, 10), date(2023, 2, 10), 12, True, date(2024, 2, 29)),
        (date(2026, 12, 31), date(2026, 12, 31), 2, True, date(2027, 2, 28)),
    ],
)
def test_months_end_where_the_calendar_says(
    base: date, anchor: date, months: int, to_end: bool, expected: date
) -> None:
    rule = MonthRule.END_OF_MONTH if to_end else MonthRule.SAME_DAY
    amount = np.array([[months], [0], [0], [0]], np.int32)
    bases = np.array([[base.toordinal()], [0], [0], [0]], np.int32)
    anchors = np.array([anchor.toordinal()], np.int32)
    due = due_from(bases, anchors, np.zeros(1, np.int32), IntervalRules(amount, *month_rules([rule])))
    assert date.fromordinal(int(due[0, 0])) == expected
    assert due[1:, 0].tolist() == [ABSENT, ABSENT, ABSENT]


def test_every_day_of_a_leap_cycle_gets_the_months_dateutil_gives() -> None:
    start = date(2023, 1, 1).toordinal()
    days = np.arange(start, start + 1500, dtype=np.int32)
    for months in (1, 2, 6, 12, 24, 37):
        wanted = np.array([date.fromordinal(int(day)).day for day in days], np.int32)
        ours = add_months(days, np.full(days.shape, months, np.int32), wanted)
        for day, due in zip(days.tolist(), ours.tolist(), strict=True):
            plain = date.fromordinal(day)
            assert date.fromordinal(due) == months_later(plain, plain, months, to_month_end=False)


@dataclass
class Scene:
    """A random requirement on a random aircraft, in the words of all three ways of reckoning."""

    random: random.Random
    limits: list[Limit] = field(default_factory=list)
    plain: list[PlainLimit] = field(default_factory=list)
    variations: list[Variation] = field(default_factory=list)
    base: list[int] = field(default_factory=lambda: [0, 0, 0, 0])
    amount: list[int] = field(default_factory=lambda: [0, 0, 0, 0])
    soon: list[int] = field(default_factory=lambda: [0, 0, 0, 0])
    slack: list[int] = field(default_factory=lambda: [0, 0, 0, 0])
    size: list[int] = field(default_factory=lambda: [1, 1, 1, 1])
    month_rule: MonthRule | None = None
    done_day: date | None = None
    done: dict[str, int] = field(default_factory=dict)
    is_last: bool = False
    now: list[int] = field(default_factory=list)
    per_day: list[int] = field(default_factory=list)

    def __post_init__(self) -> None:
        pick = self.random
        self.is_last = pick.random() < 0.3
        self.now = [pick.randrange(0, 60_000), pick.randrange(0, 4000), pick.randrange(0, 4000)]
        self.per_day = [
            pick.choice((0, 1, 90_000, pick.randrange(1, 700_000))),
            pick.choice((0, 500, 3_333)),
            1_000,
        ]
        kinds = [kind for kind in range(4) if pick.random() < 0.6]
        for kind in kinds:
            (self._counted if kind else self._calendar)(kind)

    def _calendar(self, kind: int) -> None:
        pick = self.random
        self.month_rule = pick.choice((None, MonthRule.SAME_DAY, MonthRule.END_OF_MONTH))
        amount = pick.choice((1, 6, 12, 24)) if self.month_rule else pick.choice((30, 90, 400))
        days = amount * DAYS_OF_A_MONTH if self.month_rule else amount
        done = TODAY - timedelta(days=pick.randrange(max(1, days - 40), days + 40))
        if pick.random() < 0.3:
            done = done.replace(day=1) - timedelta(days=1)
        if pick.random() < 0.1:
            self.base[kind], due = int(MISSING), None
        else:
            self.done_day, self.base[kind] = done, done.toordinal()
            due = done + timedelta(days=amount)
            if self.month_rule:
                due = months_later(done, done, amount, to_month_end=self.month_rule is MonthRule.END_OF_MONTH)
        self._keep(kind, amount, due, days)

    def _counted(self, kind: int) -> None:
        pick = self.random
        amount = pick.choice((50, 600, 6000, 12_000))
        if pick.random() < 0.1:
            self.base[kind], due = int(MISSING), None
        else:
            self.base[kind] = max(0, self.now[kind - 1] - amount + pick.randrange(-30, 60))
            self.done[COUNTED[kind - 1].value] = self.base[kind]
            due = self.base[kind] + amount
        self._keep(kind, amount, due, amount)

    def _keep(self, kind: int, amount: int, due: date | int | None, size: int) -> None:
        pick = self.random
        measure = COUNTED[kind - 1] if kind else Measure.MONTHS if self.month_rule else Measure.DAYS
        soon, slack = pick.choice((0, 5, 30)), pick.choice((0, 0, 10))
        rule = self.month_rule or MonthRule.SAME_DAY
        self.limits.append(Limit(measure, amount, month_rule=rule, soon=soon))
        self.plain.append(PlainLimit(kind, due, soon, slack, size))
        if due is not None and slack:
            self.variations.append(Variation(str(len(self.limits)), due, Amount(slack), "director", "test"))
        self.amount[kind], self.soon[kind], self.slack[kind], self.size[kind] = amount, soon, slack, size

    def facts(self) -> Facts:
        counters = dict(zip((measure.value for measure in COUNTED), self.now, strict=True))
        return Facts(
            today=TODAY,
            now=Mark(TODAY, counters),
            marks={Since.LAST_DONE: Mark(self.done_day, self.done)},
            variations=tuple(self.variations),
            use_per_day=self.rate().per_day(),
        )

    def rate(self) -> Rate:
        used = dict(zip(COUNTED, self.per_day, strict=True))
        return Rate(used, used, None, 90, Regularity.REGULAR)


def on_columns(scenes: list[Scene]) -> tuple[np.ndarray, list[tuple[int, int | None, date | None]]]:
    """All scenes as columns, one aircraft and one rule each: where they fall due, and how they stand."""
    index = np.arange(len(scenes), dtype=np.int32)

    def table(name: str) -> np.ndarray:
        return np.array([getattr(scene, name) for scene in scenes], np.int32).T.copy()

    intervals = IntervalRules(table("amount"), *month_rules([scene.month_rule for scene in scenes]))
    base = table("base")
    due = due_from(base, base[0], index, intervals)
    rules = Rules(table("soon"), table("slack"), table("size"), np.array([scene.is_last for scene in scenes]))
    found = states_of(DueColumns(due, index, index), rules, Counters(table("now"), table("per_day")), TODAY)
    rows = [
        (int(state), None if governing == NONE_GOVERNS else int(governing), _day(int(day)))
        for state, governing, day in zip(found.state, found.governing, found.day, strict=True)
    ]
    return due, rows


def _day(ordinal: int) -> date | None:
    return None if ordinal == NO_DAY else date.fromordinal(ordinal)


def engine_day(scene: Scene, due_at: list[date | int | None]) -> date | None:
    """The day of a requirement from the engine's due points and the forecast's projections."""
    days: list[date | None] = []
    for plain, due in zip(scene.plain, due_at, strict=True):
        if due is None or isinstance(due, date):
            days.append(due)
            continue
        left = Remaining(due - scene.now[plain.kind - 1], COUNTED[plain.kind - 1])
        projection: Projection | NoDate = project(left, scene.rate(), ForecastErrors(), TODAY)
        days.append(projection.day if isinstance(projection, Projection) else None)
    dated = [day for day in days if day is not None]
    if scene.is_last:
        return max(dated) if dated and len(dated) == len(days) else None
    return min(dated, default=None)


def test_columns_agree_with_the_engine_and_with_plain_arithmetic_row_by_row() -> None:
    pick = random.Random(20260302)
    scenes = [Scene(pick) for _ in range(4000)]
    due, rows = on_columns(scenes)
    for number, (scene, row) in enumerate(zip(scenes, rows, strict=True)):
        plain = answer(scene.plain, scene.now, scene.per_day, TODAY, is_last=scene.is_last)
        assert row == (plain.state, plain.governing, plain.day), scene
        if not scene.limits:
            continue
        combine = Combine.LAST if scene.is_last else Combine.FIRST
        result = bare_due_of(Group(combine, tuple(scene.limits)), scene.facts())
        governing = scene.plain[int(result.governing) - 1].kind
        days = engine_day(scene, [limit.due_at for limit in result.limits])
        assert row == (STATES.index(result.status), governing, days), scene
        for plain_limit, limit in zip(scene.plain, result.limits, strict=True):
            point = limit.due_at.toordinal() if isinstance(limit.due_at, date) else limit.due_at
            assert due[plain_limit.kind, number] == (MISSING if point is None else point)


def test_more_flying_never_makes_a_row_less_urgent() -> None:
    pick = random.Random(7)
    scenes = [Scene(pick) for _ in range(2000)]
    _, before = on_columns(scenes)
    for scene in scenes:
        scene.now = [shown + 45 for shown in scene.now]
    _, after = on_columns(scenes)
    assert all(later[0] >= sooner[0] for sooner, later in zip(before, after, strict=True))
