"""What if it flies more, is done on Thursday, or is brought forward: reckoned, never saved."""

from datetime import date

import pytest

from fleet.quantities import RefusedInput
from scheduling.due.engine import due_of, first_of, last_of
from scheduling.due.terms import Facts, Limit, Mark, Measure, Since
from scheduling.due.what_if import day_reached, flown, if_done, if_done_on, if_flies, if_limits
from tests.words import plain

TODAY = date(2026, 3, 2)
HOURS = Limit(Measure.HOURS, 200 * 60)
FACTS = Facts(
    TODAY,
    Mark(TODAY, {"hours": 1312 * 60 + 24}),
    {Since.LAST_DONE: Mark(date(2025, 9, 1), {"hours": 1150 * 60})},
)
SIX_HOURS = {"hours": 360}


def test_thirty_seven_hours_at_six_a_day_last_six_days() -> None:
    assert day_reached(HOURS, FACTS, SIX_HOURS) == date(2026, 3, 8)


def test_no_use_gives_no_day() -> None:
    assert day_reached(HOURS, FACTS, {"hours": 0}) is None
    assert day_reached(HOURS, FACTS, {}) is None


def test_a_calendar_limit_caps_the_day_whichever_first_and_not_whichever_last() -> None:
    months = Limit(Measure.MONTHS, 6)
    assert day_reached(first_of(HOURS, months), FACTS, {}) == date(2026, 3, 31)
    assert day_reached(last_of(HOURS, months), FACTS, {}) is None
    assert day_reached(last_of(HOURS, months), FACTS, SIX_HOURS) == date(2026, 3, 31)


def test_a_fixed_date_already_done_takes_no_part() -> None:
    limits = last_of(Limit(Measure.DATE, date(2027, 1, 1)), HOURS)
    assert day_reached(limits, FACTS, SIX_HOURS) == date(2026, 3, 8)


def test_flying_more_brings_the_day_forward_and_leaves_today_alone() -> None:
    answer = if_flies(HOURS, FACTS, {"hours": 180}, SIX_HOURS)
    assert (answer.day_before, answer.day_after) == (date(2026, 3, 14), date(2026, 3, 8))
    assert answer.after == answer.before
    assert plain(answer.words) == "It would fall due on 8 Mar 2026 instead of 14 Mar 2026, 6 days earlier."


def test_done_on_thursday_starts_from_the_hours_flown_by_then() -> None:
    answer = if_done_on(HOURS, FACTS, date(2026, 3, 5), SIX_HOURS)
    assert answer.steps[0].done_at == 1330 * 60 + 24
    assert answer.steps[0].late_by == -(19 * 60 + 36)
    assert answer.after.limits[0].due_at == 1530 * 60 + 24
    assert answer.day_after == date(2026, 4, 7)


def test_done_after_the_limit_is_told_as_a_breach() -> None:
    answer = if_done_on(HOURS, FACTS, date(2026, 3, 12), SIX_HOURS)
    assert answer.words.endswith("Doing it then breaks a limit.")


def test_done_yesterday_uses_the_counters_given() -> None:
    answer = if_done(HOURS, FACTS, Mark(date(2026, 3, 1), {"hours": 1310 * 60}), SIX_HOURS)
    assert answer.after.limits[0].due_at == 1510 * 60
    with pytest.raises(RefusedInput):
        if_done(HOURS, FACTS, Mark(date(2026, 3, 3), {"hours": 1310 * 60}), SIX_HOURS)


def test_another_limit_is_tried_on_the_same_facts() -> None:
    answer = if_limits(HOURS, Limit(Measure.HOURS, 150 * 60), FACTS, SIX_HOURS)
    assert answer.after.status == "overdue"
    assert answer.before.limits[0].due_at == 1350 * 60


def test_nothing_in_the_facts_is_changed() -> None:
    before = due_of(HOURS, FACTS)
    if_done_on(HOURS, FACTS, date(2026, 3, 5), SIX_HOURS)
    flown(FACTS, SIX_HOURS, 30)
    assert due_of(HOURS, FACTS) == before


@pytest.mark.parametrize(("rate", "days"), [(-1, 3), (60, -1)])
def test_a_rate_below_zero_or_a_day_behind_is_refused(rate: int, days: int) -> None:
    with pytest.raises(RefusedInput):
        flown(FACTS, {"hours": rate}, days)
