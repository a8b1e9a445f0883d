from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from fleet.common import wording


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


@pytest.mark.parametrize(
    ("minutes", "words"),
    [
        (0, "0:00 h"),
        (5, "0:05 h"),
        (78270, "1 304:30 h"),
        (-30, "−0:30 h"),
        (60_000_000, "1 000 000:00 h"),
    ],
)
def test_minutes_are_written_as_hours_and_minutes(minutes: int, words: str) -> None:
    assert plain(wording.hours(minutes)) == words


@pytest.mark.parametrize(
    ("value", "words"),
    [
        (Decimal("12.50"), "12.50 V"),
        (Decimal("-12500.50"), "−12 500.50 V"),
        (Decimal("1E+3"), "1 000 V"),
        (Decimal("0.0010"), "0.0010 V"),
        (999, "999 V"),
        ("27.9", "27.9 V"),
        ("see note", "see note V"),
    ],
)
def test_a_quantity_keeps_its_decimals_as_written(value: int | str | Decimal, words: str) -> None:
    assert plain(wording.quantity(value, "V")) == words


def test_a_date_is_written_day_month_year() -> None:
    assert plain(wording.day(date(2026, 3, 14))) == "14 Mar 2026"
    assert plain(wording.weekday(date(2026, 3, 14))) == "Sat 14 Mar"


@pytest.mark.parametrize(
    ("zone", "words"),
    [
        ("UTC", "14 Mar 2026, 23:30 UTC"),
        ("Europe/Oslo", "15 Mar 2026, 00:30 CET"),
        ("Asia/Kathmandu", "15 Mar 2026, 05:15 UTC+05:45"),
        ("America/St_Johns", "14 Mar 2026, 21:00 NDT"),
        ("America/Sao_Paulo", "14 Mar 2026, 20:30 UTC-03:00"),
    ],
)
def test_a_moment_is_written_at_its_place_with_its_zone(zone: str, words: str) -> None:
    assert plain(wording.moment(datetime(2026, 3, 14, 23, 30, tzinfo=UTC), zone)) == words


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="names no time zone"):
        wording.moment(datetime(2026, 3, 14, 23, 30))
    with pytest.raises(ValueError, match="names no time zone"):
        wording.clock(datetime(2026, 3, 14, 23, 30))


@pytest.mark.parametrize(
    ("number", "words"),
    [(2, "2 days left"), (1, "1 day left"), (0, "today"), (-1, "1 day over"), (-40, "40 days over")],
)
def test_days_left_are_said_in_words(number: int, words: str) -> None:
    assert plain(wording.days_left(number)) == words


def test_hours_and_numbers_left_are_said_in_words() -> None:
    assert plain(wording.hours_left(750)) == "12:30 h left"
    assert plain(wording.hours_left(-130)) == "2:10 h over"
    assert plain(wording.hours_left(0)) == "none left"
    assert plain(wording.number_left(-1, "landing")) == "1 landing over"
    assert plain(wording.number_left(1200, "landing")) == "1 200 landings left"
    assert plain(wording.counted(2, "battery", "batteries")) == "2 batteries"


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (35, "35 s"), (95, "1 min 35 s"), (3600, "1 h 0 min"), (7260, "2 h 1 min")],
)
def test_a_span_of_time_is_said_in_its_largest_units(seconds: int, words: str) -> None:
    assert plain(wording.span(seconds)) == words
