"""Rows of flight files, without a database: every reading of a cell, and that nothing makes the reader fall over."""

import csv
import io
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.common.errors import Invalid
from fleet.flight_file.columns import Numbers, Zone, choose_columns, guess_columns, open_flight_file
from fleet.flight_file.rows import CellError, FlightRow, Registered, content_key, read_flights

NOW = datetime(2026, 6, 1, tzinfo=UTC)
OSLO = Registered(ZoneInfo("Europe/Oslo"), withdrawn_on=date(2026, 5, 1))


def read(text: str, register: Registered | None = OSLO, **columns: str) -> list[Any]:
    file = open_flight_file(io.StringIO(text))
    return list(read_flights(file, choose_columns(file, columns), lambda _: register, NOW))


def one(text: str, **columns: str) -> FlightRow:
    (row,) = read(text, **columns)
    assert isinstance(row, FlightRow), row
    return row


def problems(text: str, **columns: str) -> list[tuple[str, str]]:
    (errors,) = read(text, **columns)
    assert isinstance(errors, tuple)
    assert all(isinstance(error, CellError) for error in errors)
    return [(error.column, error.detail) for error in errors]


def test_a_row_is_read_with_its_day_at_the_base() -> None:
    row = one("reg,off,min,ldg,ref\nqx-ska,2026-03-14T23:30Z,95,2,L1\n")

    off_at = datetime(2026, 3, 14, 23, 30, tzinfo=UTC)
    assert row == FlightRow(2, "QX-SKA", date(2026, 3, 15), off_at, 95, 2, 1, "L1")


def test_a_day_without_a_time_is_noon_at_the_base() -> None:
    assert one("reg,date,min\nQX-SKA,14 Mar 2026,95\n").off_at == datetime(2026, 3, 14, 11, tzinfo=UTC)


def test_minutes_between_off_and_on_may_pass_midnight() -> None:
    assert one("reg,date,off,on\nQX-SKA,2026-03-14,23:30,00:45\n").minutes == 75
    assert one("reg,date,off,on\nQX-SKA,2026-03-14,2330,0045\n").minutes == 75


def test_minutes_between_local_times_know_that_clocks_change() -> None:
    """Clocks go forward in Oslo on 29 March 2026 at 2:00, and back on 25 October 2025 at 3:00."""
    assert one("reg,date,off,on\nQX-SKA,2026-03-29,01:30,03:30\n", zone="base").minutes == 60


@pytest.mark.parametrize(
    ("row", "expected"),
    [
        ("QX-SKA,2026-05-02,30", [("date", "is after the aircraft was withdrawn (2026-05-01)")]),
        ("QX-SKA,2026-06-02,30", [("date", "lies in the future")]),
        ("QX-SKA,2026-13-01,30", [("date", "is not a date")]),
        ("QX-SKA,2026-W10-1,30", [("date", "is not a date")]),
        ("QX-SKA,31 Feb 2026,30", [("date", "is not a date")]),
        ("QX-SKA,,30", [("date", "is empty")]),
        ("QX-SKA,2026-03-14,", [("min", "is empty")]),
        ("QX-SKA,2026-03-14,-5", [("min", "is not whole minutes")]),
        ("QX-SKA,2026-03-14,9.5", [("min", "is not whole minutes")]),
        ("QX-SKA,2026-03-14,٣٠", [("min", "is not whole minutes")]),
        ("QX-SKA,2026-03-14,99999999999999", [("min", "is longer than a day (999999999 minutes)")]),
        (",2026-03-14,30", [("reg", "is empty")]),
        ("QX-SKA,x,y", [("date", "is not a date"), ("min", "is not whole minutes")]),
    ],
)
def test_a_wrong_cell_says_what_is_wrong(row: str, expected: list[tuple[str, str]]) -> None:
    assert problems(f"reg,date,min\n{row}\n") == expected


def test_a_registration_longer_than_any_is_not_even_looked_up() -> None:
    (errors,) = read(f"reg,date,min\n{'Q' * 13},2026-03-14,30\n")
    assert errors[0].detail == "is not on the register"


def test_rows_are_counted_as_a_spreadsheet_counts_them() -> None:
    rows = read("reg,date,min\n\nQX-SKA,2026-03-14,30\n,,\nQX-SKA,2026-03-15,30\n")
    assert [row.row for row in rows] == [3, 5]


@pytest.mark.parametrize(
    ("heading", "field", "guess"),
    [
        ("Tail number,Flight date,Air time", "registration", "Tail number"),
        ("aircraft;day;hours", "date", "day"),
        ("REG\tBlock_off (UTC)\tmin", "off", "Block_off (UTC)"),
        ("reg,date,Flight time (h)", "duration", "Flight time (h)"),
        ("reg,date,min,Flight No.", "reference", "Flight No."),
        ("reg,date,min,Number of landings", "landings", "Number of landings"),
    ],
)
def test_columns_are_guessed_from_what_they_are_called(heading: str, field: str, guess: str) -> None:
    assert guess_columns(open_flight_file([heading])).as_dict()[field] == guess


def test_a_local_heading_makes_times_local_and_big_whole_numbers_are_minutes() -> None:
    file = open_flight_file(["reg,off local,time\n", "QX-SKA,2026-03-14 09:30,95\n"])
    guess = guess_columns(file)
    assert (guess.zone, guess.numbers) == (Zone.BASE, Numbers.MINUTES)


@pytest.mark.parametrize(
    ("chosen", "field"),
    [({"duration": "nothing"}, "duration"), ({"zone": "moon"}, "zone"), ({"numbers": "x"}, "numbers")],
)
def test_a_choice_that_cannot_be_is_refused(chosen: dict[str, str], field: str) -> None:
    with pytest.raises(Invalid) as refusal:
        choose_columns(open_flight_file(["reg,date,min"]), chosen)
    assert refusal.value.reasons[0].field == field


def test_a_column_can_be_left_unused() -> None:
    assert one("reg,date,min,ref\nQX-SKA,2026-03-14,30,L1\n", reference="").reference == ""


def test_the_same_content_has_the_same_key_and_repeats_are_numbered() -> None:
    row = one("reg,off,min\nQX-SKA,2026-03-14T09:30Z,95\n")
    assert content_key(row, 0) == "row 2026-03-14T09:30:00Z 95 min 1/1"
    assert content_key(row, 1) == "row 2026-03-14T09:30:00Z 95 min 1/1 #2"


CELLS = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        ["QX-SKA", "2026-03-14", "14 Mar 2026", "09:30", "2026-03-14T09:30Z", "95", "1:35", "1.5", ""]
    ),
)


@given(rows=st.lists(st.lists(CELLS, max_size=9), max_size=6))
def test_whatever_stands_in_the_cells_every_row_is_a_flight_or_named_errors(rows: list[list[str]]) -> None:
    text = io.StringIO()
    csv.writer(text).writerows([["reg", "date", "off", "on", "min", "ldg", "cycles", "ref"], *rows])

    for zone in ("utc", "base"):
        for row in read(text.getvalue().replace("\0", ""), zone=zone):
            if isinstance(row, FlightRow):
                assert 1 <= row.minutes <= 1_440
                assert row.off_at <= NOW
                assert abs(datetime.combine(row.day, datetime.min.time(), UTC) - row.off_at) < timedelta(
                    days=2
                )
            else:
                assert row
                assert all(error.detail and error.remedy for error in row)
