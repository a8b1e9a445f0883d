"""Quiet hours and mornings of a base, also when the clocks change."""

from __future__ import annotations

from datetime import UTC, date, datetime, time

import pytest

from scheduling.due.quiet_hours import Rest, digest_day, is_quiet, local, not_before

OSLO = Rest("Europe/Oslo", time(21), time(6), time(6, 30))


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc, arg-type]


@pytest.mark.parametrize(
    ("moment", "quiet"),
    [
        (utc(2026, 1, 10, 19, 59), False),
        (utc(2026, 1, 10, 20, 0), True),
        (utc(2026, 1, 11, 4, 59), True),
        (utc(2026, 1, 11, 5, 0), False),
    ],
)
def test_quiet_hours_run_over_midnight_in_the_bases_own_zone(moment: datetime, quiet: bool) -> None:
    assert is_quiet(OSLO, moment) is quiet


def test_a_message_in_quiet_hours_waits_for_their_end() -> None:
    assert not_before(OSLO, utc(2026, 1, 10, 22)) == utc(2026, 1, 11, 5)
    assert not_before(OSLO, utc(2026, 1, 11, 3)) == utc(2026, 1, 11, 5)
    assert not_before(OSLO, utc(2026, 1, 10, 12)) == utc(2026, 1, 10, 12)


def test_the_end_of_quiet_hours_moves_with_daylight_saving() -> None:
    assert not_before(OSLO, utc(2026, 3, 28, 22)) == utc(2026, 3, 29, 4)
    assert not_before(OSLO, utc(2026, 10, 24, 22)) == utc(2026, 10, 25, 5)


def test_a_morning_that_the_clock_skips_is_the_hour_after() -> None:
    assert local("Europe/Oslo", date(2026, 3, 29), time(2, 30)) == utc(2026, 3, 29, 1, 30)


def test_a_digest_at_an_hour_that_comes_twice_has_one_day() -> None:
    twice = Rest("Europe/Oslo", time(21), time(6), time(2, 30))
    moments = [utc(2026, 10, 25, 0, 29), utc(2026, 10, 25, 0, 30), utc(2026, 10, 25, 1, 30)]
    assert [digest_day(twice, moment) for moment in moments] == [
        None,
        date(2026, 10, 25),
        date(2026, 10, 25),
    ]


def test_equal_quiet_hours_mean_none() -> None:
    none = Rest("UTC", time(0), time(0), time(6, 30))
    assert not is_quiet(none, utc(2026, 1, 1))
