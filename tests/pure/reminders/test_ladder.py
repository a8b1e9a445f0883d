"""Which step of a ladder stands, who is told, and ladders as written."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from fleet.common.errors import Invalid
from scheduling.due.ladder import Ladder, Stage, Standing, ladder_from_data, rung_of, standings_of
from scheduling.due.terms import Combine, DueResult, DueStatus, Group, Limit, LimitDue, Measure
from tests.words import plain

TODAY = date(2026, 3, 14)
DUE = date(2026, 3, 31)
LADDER = ladder_from_data({"days": [1, 30, 7, 14], "hours": ["5:00", "25:00", "10:00"]})


def days(left: int, *, is_overdue: bool = False, due: date = DUE) -> Standing:
    return Standing("1", Measure.MONTHS, due, left, is_overdue)


def hours(left: int) -> Standing:
    return Standing("2", Measure.HOURS, 81_000, left)


@pytest.mark.parametrize(
    ("left", "name"),
    [
        (31, None),
        (30, "days-30"),
        (15, "days-30"),
        (14, "days-14"),
        (8, "days-14"),
        (7, "days-7"),
        (2, "days-7"),
        (1, "days-1"),
    ],
)
def test_only_the_furthest_step_reached_is_told(left: int, name: str | None) -> None:
    rung = rung_of(LADDER, [days(left)], TODAY)
    assert (rung.name if rung else None) == name


@pytest.mark.parametrize(
    ("left", "name", "words"),
    [
        (1501, None, None),
        (1500, "hours-1500", "25:00 h before"),
        (600, "hours-600", "10:00 h before"),
        (1, "hours-300", "5:00 h before"),
    ],
)
def test_steps_in_flight_hours_are_whole_minutes(left: int, name: str | None, words: str | None) -> None:
    rung = rung_of(LADDER, [hours(left)], TODAY)
    assert (rung.name if rung else None, plain(rung.words) if rung else None) == (name, words)


def test_of_two_limits_the_one_that_has_climbed_further_is_told() -> None:
    rung = rung_of(LADDER, [days(20), hours(299)], TODAY)
    assert rung is not None
    assert rung.key == "2:81000:hours-300"


def test_a_limit_reached_counts_more_than_any_step_before_another() -> None:
    rung = rung_of(LADDER, [days(0), hours(1)], TODAY)
    assert rung is not None
    assert (rung.stage, rung.key) == (Stage.REACHED, "1:2026-03-31:reached-2026-03-14")


def test_what_is_overdue_has_one_key_a_day_so_missed_days_collapse() -> None:
    keys = []
    for offset in (0, 0, 3):
        rung = rung_of(LADDER, [days(-2, is_overdue=True)], TODAY + timedelta(days=offset))
        assert rung is not None
        keys.append(rung.key)
    assert keys == [
        "1:2026-03-31:overdue-2026-03-14",
        "1:2026-03-31:overdue-2026-03-14",
        "1:2026-03-31:overdue-2026-03-17",
    ]


def test_overdue_every_seven_days_changes_its_key_once_a_week() -> None:
    ladder = ladder_from_data({"overdue_every_days": 7})
    found = {
        rung.key
        for offset in range(14)
        if (rung := rung_of(ladder, [days(-1, is_overdue=True)], TODAY + timedelta(days=offset)))
    }
    assert 2 <= len(found) <= 3


def test_a_due_point_that_moved_is_a_new_matter() -> None:
    before = rung_of(LADDER, [days(10)], TODAY)
    after = rung_of(LADDER, [days(10, due=date(2026, 4, 30))], TODAY)
    assert before is not None
    assert after is not None
    assert before.key != after.key


def test_the_last_step_and_all_after_it_must_be_acknowledged() -> None:
    ladder = ladder_from_data({"days": [30, 14, 7, 1], "acknowledge_within_hours": 24, "acknowledge_last": 2})
    must = {left: rung_of(ladder, [days(left)], TODAY) for left in (30, 14, 7, 1, 0)}
    assert {left: rung.must_acknowledge for left, rung in must.items() if rung} == {
        30: False,
        14: False,
        7: True,
        1: True,
        0: True,
    }


def test_no_step_need_be_acknowledged_where_the_ladder_names_none() -> None:
    ladder = ladder_from_data({"days": [7, 1], "acknowledge_last": 0})
    rung = rung_of(ladder, [days(1)], TODAY)
    assert rung is not None
    assert rung.must_acknowledge is False


def test_an_empty_ladder_still_tells_what_is_past() -> None:
    assert rung_of(Ladder(), [days(3)], TODAY) is None
    rung = rung_of(Ladder(), [days(-1, is_overdue=True)], TODAY)
    assert rung is not None
    assert rung.is_past


def test_where_the_last_limit_decides_only_the_governing_one_is_told() -> None:
    calendar, flown = Limit(Measure.MONTHS, 12), Limit(Measure.HOURS, 6000)
    dues = (
        LimitDue("1", calendar, DueStatus.OVERDUE, due_at=date(2026, 3, 1), remaining=-13),
        LimitDue("2", flown, DueStatus.OK, due_at=81_000, remaining=4000),
    )
    result = DueResult(DueStatus.OK, "2", dues, None, None, "whichever last")
    last, first = Group(Combine.LAST, (calendar, flown)), Group(Combine.FIRST, (calendar, flown))
    assert [one.path for one in standings_of(last, result)] == ["2"]
    assert [one.path for one in standings_of(first, result)] == ["1", "2"]


@pytest.mark.parametrize(
    ("written", "field"),
    [
        ({"days": [0]}, "days"),
        ({"days": [-3, 7]}, "days"),
        ({"days": 7}, "days"),
        ({"days": [True]}, "days"),
        ({"hours": ["25:99"]}, "hours"),
        ({"to": ["everybody"]}, "to"),
        ({"to": []}, "to"),
        ({"overdue_every_days": 0}, "overdue_every_days"),
        ({"acknowledge_within_hours": "soon"}, "acknowledge_within_hours"),
        ({"weeks": [1]}, "weeks"),
    ],
)
def test_a_ladder_that_makes_no_sense_names_its_field(written: dict[str, object], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        ladder_from_data(written)
    assert [reason.field for reason in refused.value.reasons] == [field]
    assert all(reason.remedy for reason in refused.value.reasons)
