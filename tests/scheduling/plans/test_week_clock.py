"""Quarter hours of a week by the clock on the hangar's wall."""

from __future__ import annotations

from datetime import UTC, date, datetime

from scheduling.gather.week_clock import WeekClock, cut
from scheduling.planner.problem import Span

OSLO = WeekClock(date(2026, 3, 9), "Europe/Oslo")
SPRING = WeekClock(date(2026, 3, 23), "Europe/Oslo")
AUTUMN = WeekClock(date(2026, 10, 19), "Europe/Oslo")


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc, arg-type]


def test_a_slot_is_a_quarter_of_an_hour_from_monday_midnight_at_the_base() -> None:
    assert OSLO.moment(32) == utc(2026, 3, 9, 7)
    assert OSLO.slot(utc(2026, 3, 9, 7, 14)) == 32
    assert OSLO.slot(utc(2026, 3, 9, 7, 14), up=True) == 33


def test_a_stretch_keeps_only_whole_slots_inside_the_week() -> None:
    assert OSLO.span(utc(2026, 3, 8, 12), utc(2026, 3, 9, 7, 10)) == Span(0, 32)
    assert OSLO.span(utc(2026, 3, 9, 7, 1), utc(2026, 3, 9, 7, 14)) is None


def test_the_hour_that_does_not_exist_is_cut_out() -> None:
    sunday_two = 6 * 96 + 8
    assert SPRING.skipped() == [Span(sunday_two, sunday_two + 4)]
    night = SPRING.spans(utc(2026, 3, 29, 0), utc(2026, 3, 29, 3))
    assert night == [Span(sunday_two - 4, sunday_two), Span(sunday_two + 4, sunday_two + 12)]


def test_sunday_morning_reads_the_same_after_the_clocks_changed() -> None:
    eight = 6 * 96 + 32
    assert SPRING.moment(eight) == utc(2026, 3, 29, 6)
    assert AUTUMN.moment(eight) == utc(2026, 10, 25, 7)
    assert SPRING.slot(utc(2026, 3, 29, 6)) == AUTUMN.slot(utc(2026, 10, 25, 7)) == eight
    assert AUTUMN.skipped() == []


def test_a_day_ends_at_its_midnight_also_before_the_week() -> None:
    assert OSLO.day_end(date(2026, 3, 9)) == 96
    assert OSLO.day_end(date(2026, 3, 8)) == 0
    assert OSLO.day_end(date(2026, 3, 1)) == -672


def test_holes_are_cut_out_of_stretches() -> None:
    assert cut([Span(0, 10)], [Span(4, 6)]) == [Span(0, 4), Span(6, 10)]
    assert cut([Span(0, 10)], [Span(0, 3), Span(8, 20)]) == [Span(3, 8)]
    assert cut([Span(0, 10)], [Span(0, 10)]) == []
