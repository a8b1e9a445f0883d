"""The engine against a plain second reckoning and against python-dateutil, over many random cases.

VERGLAS_CASES raises the number of cases.
"""

import os
from dataclasses import replace
from datetime import date, timedelta
from random import Random

from dateutil.relativedelta import relativedelta

from scheduling.due.calendar import add_months
from scheduling.due.engine import SEVERITY, bare_due_of, due_of, next_after, paths_of
from scheduling.due.kept import last_due_from_data, last_due_to_data
from scheduling.due.parse import limits_from_data, limits_to_data
from scheduling.due.terms import Anchor, Facts, Limit, Mark, Measure, MonthRule, Since
from tests.pure.due.cases import engine_facts, random_facts, random_limits
from tests.pure.due.reference import reckon

CASES = int(os.environ.get("VERGLAS_CASES", "2000"))


def test_every_random_case_agrees_with_the_plain_reckoning_row_by_row() -> None:
    dice = Random(20260314)
    seen = set()
    for _ in range(CASES):
        data = random_limits(dice)
        limits = limits_from_data(data)
        facts = random_facts(dice, [(path, limit.measure.value) for path, limit in paths_of(limits)])
        first = bare_due_of(limits, engine_facts(facts))
        for due in first.limits:
            if due.due_at is not None and dice.random() < 0.3:
                facts["variations"][due.path] = {"for_due": due.due_at, "amount": dice.randint(1, 40)}
        result = bare_due_of(limits, engine_facts(facts))
        status, dues = reckon(data, facts)
        found = {due.path: (due.due_at, due.remaining) for due in result.limits}
        assert (result.status.value, found) == (status, dues), (data, facts)
        seen.add(status)
    assert seen == {"complete", "ok", "due_soon", "unknown", "due", "overdue"}


def test_months_agree_with_dateutil_for_both_month_rules() -> None:
    dice = Random(7)
    for _ in range(CASES):
        day = date(1990, 1, 1) + timedelta(days=dice.randrange(25_000))
        months = dice.randint(1, 480)
        assert add_months(day, months, MonthRule.SAME_DAY) == day + relativedelta(months=months)
        assert add_months(day, months, MonthRule.END_OF_MONTH) == day + relativedelta(months=months, day=31)


def test_same_day_months_done_on_each_due_day_never_lose_the_day_of_their_anchor() -> None:
    limit = Limit(Measure.MONTHS, 1, month_rule=MonthRule.SAME_DAY, anchor=Anchor.FROM_DUE)
    start = date(2023, 1, 31)
    facts = Facts(start, Mark(start), {Since.LAST_DONE: Mark(start)})
    for count in range(1, 60):
        due_day = bare_due_of(limit, facts).due_day
        assert due_day == start + relativedelta(months=count)
        facts = next_after(limit, replace(facts, today=due_day), Mark(due_day)).facts
        facts = replace(facts, last_due=last_due_from_data(last_due_to_data(facts.last_due)))


def test_more_use_and_more_days_never_leave_more() -> None:
    dice = Random(11)
    for _ in range(CASES // 4):
        limits = limits_from_data(random_limits(dice))
        written = random_facts(dice, [(path, limit.measure.value) for path, limit in paths_of(limits)])
        facts = engine_facts(written)
        days, use = dice.randrange(60), dice.randrange(500)
        now = Mark(None, {name: value + use for name, value in facts.now.counters.items()})
        later = replace(facts, today=facts.today + timedelta(days=days), now=now)
        before, after = bare_due_of(limits, facts), bare_due_of(limits, later)
        assert SEVERITY[after.status] >= SEVERITY[before.status]
        for old, new in zip(before.limits, after.limits, strict=True):
            assert old.due_at == new.due_at
            if old.remaining is not None and new.remaining is not None:
                assert new.remaining <= old.remaining


def test_what_is_written_reads_back_to_the_same_limits() -> None:
    dice = Random(13)
    for _ in range(CASES // 4):
        limits = limits_from_data(random_limits(dice))
        assert limits_from_data(limits_to_data(limits)) == limits


def test_every_due_has_a_first_sentence_and_a_line_for_each_limit() -> None:
    dice = Random(17)
    for _ in range(min(CASES, 100_000) // 8):
        limits = limits_from_data(random_limits(dice))
        written = random_facts(dice, [(path, limit.measure.value) for path, limit in paths_of(limits)])
        result = due_of(limits, engine_facts(written))
        assert len(result.explanation) >= 1
        assert all(line.endswith(".") and "None" not in line for line in result.explanation)
        assert all(due.words and "None" not in due.words for due in result.limits)


def test_doing_it_late_from_due_never_gains_over_doing_it_on_time() -> None:
    dice = Random(19)
    for _ in range(CASES // 4):
        interval, late = dice.randint(60, 60_000), dice.randint(-6000, 6000)
        limit = Limit(Measure.HOURS, interval, anchor=Anchor.FROM_DUE)
        day = date(2026, 3, 2)
        facts = Facts(day, Mark(day, {"hours": 100_000}), {Since.LAST_DONE: Mark(day, {"hours": 70_000})})
        done = 70_000 + interval + late
        step = next_after(limit, facts, Mark(day, {"hours": done})).limits[0]
        assert step.next_due == min(70_000 + interval, done) + interval
        assert step.is_violation is (late > 0)
