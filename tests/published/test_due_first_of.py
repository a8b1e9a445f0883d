"""Whichever first, events inside a calendar rule, and time in service as whole minutes."""

from dataclasses import replace
from datetime import date

import pytest

from fleet.quantities import format_minutes, parse_hours
from scheduling.due.engine import due_of, first_of, next_after
from scheduling.due.terms import DueStatus, Facts, Limit, Mark, Measure, Since

pytestmark = pytest.mark.published

H = 60


def mixed(landings: int) -> Facts:
    now = Mark(date(2026, 3, 2), {"hours": 1312 * H + 24, "landings": landings})
    last = Mark(date(2025, 3, 2), {"hours": 1150 * H, "landings": 2300})
    return Facts(date(2026, 3, 2), now, {Since.LAST_DONE: last})


MIXED = first_of(
    Limit(Measure.HOURS, 200 * H, soon=10 * H),
    Limit(Measure.MONTHS, 12, soon=14),
    Limit(Measure.LANDINGS, 100, soon=10),
)


def test_the_worst_limit_decides_and_each_reports_what_is_left() -> None:
    """Derived from "whichever occurs first" as in ML.A.302(d)(1)."""
    result = due_of(MIXED, mixed(2399))
    assert (result.status, result.governing) == (DueStatus.DUE_SOON, "3")
    assert [due.remaining for due in result.limits] == [37 * H + 36, 29, 1]
    assert [due.due_at for due in result.limits] == [1350 * H, date(2026, 3, 31), 2400]


def test_one_limit_past_makes_the_whole_overdue() -> None:
    """Derived from "whichever occurs first" as in ML.A.302(d)(1)."""
    assert due_of(MIXED, mixed(2401)).status is DueStatus.OVERDUE


def test_opening_the_static_system_raises_the_test_whatever_the_months_say() -> None:
    """14 CFR 91.411(a)(2): the test follows each opening, besides the 24 months of (a)(1)."""
    limits = first_of(Limit(Measure.MONTHS, 24), Limit(Measure.DAYS, 1, since=Since.EVENT))
    done = Mark(date(2026, 1, 5))
    facts = Facts(date(2026, 3, 2), Mark(date(2026, 3, 2)), {Since.LAST_DONE: done})
    assert due_of(limits, facts).status is DueStatus.OK
    opened = replace(facts, marks={Since.LAST_DONE: done, Since.EVENT: Mark(date(2026, 2, 27))})
    assert (due_of(limits, opened).status, due_of(limits, opened).governing) == (DueStatus.OVERDUE, "2")
    tested = next_after(limits, opened, Mark(date(2026, 3, 2))).facts
    assert (due_of(limits, tested).status, due_of(limits, tested).due_day) == (
        DueStatus.OK,
        date(2028, 3, 31),
    )


def test_an_unscheduled_event_is_due_with_the_next_landing() -> None:
    """TM 1-1500-328-23 para 2-11: before the next flight, so no landing may follow the event."""
    limit = Limit(Measure.LANDINGS, 1, since=Since.EVENT)
    event = {Since.EVENT: Mark(date(2026, 3, 1), {"landings": 2400})}
    assert (
        due_of(limit, Facts(date(2026, 3, 1), Mark(None, {"landings": 2400}), event)).limits[0].remaining == 1
    )
    assert due_of(limit, Facts(date(2026, 3, 1), Mark(None, {"landings": 2402}), event)).status == "overdue"


def test_an_annual_inspection_satisfies_the_hundred_hours_but_not_the_reverse() -> None:
    """14 CFR 91.409(b): done as an annual, both start again; done as a 100-hour, the twelve months run on."""
    annual, hundred = Limit(Measure.MONTHS, 12), Limit(Measure.HOURS, 100 * H)
    facts = Facts(
        date(2026, 3, 2),
        Mark(date(2026, 3, 2), {"hours": 1250 * H}),
        {Since.LAST_DONE: Mark(date(2025, 6, 10), {"hours": 1200 * H})},
    )
    done = Mark(date(2026, 3, 2), {"hours": 1250 * H})
    assert next_after(hundred, facts, done).limits[0].next_due == 1350 * H
    assert due_of(annual, facts).due_day == date(2026, 6, 30)
    assert next_after(annual, facts, done).limits[0].next_due == date(2027, 3, 31)


def test_time_in_service_is_kept_as_whole_minutes() -> None:
    """14 CFR 1.1, time in service; 1 h 27 min is 87 minutes and 1.45 h."""
    assert parse_hours("1:27") == 87
    assert parse_hours("1.45") == 87
    assert format_minutes(87) == "1:27"
