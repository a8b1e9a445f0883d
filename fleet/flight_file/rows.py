"""Rows of a flight file as flights, or as cells with what is wrong and what to do. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from typing import NamedTuple, TypeVar
from zoneinfo import ZoneInfo

from fleet.flight_file.columns import Columns, FlightFile, Numbers, Zone
from fleet.quantities import RefusedInput, parse_hours

Read = TypeVar("Read")

LONGEST_FLIGHT = 1440
MOST_COUNT = 999
LONGEST_REFERENCE = 80
LONGEST_REGISTRATION = 12
NOON = time(12)
MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")

_WRITTEN_DATE = re.compile(r"(\d{1,2})[ -]([A-Za-z]{3})[a-z]*\.?[ -](\d{4})")
_TIME = re.compile(r"(\d{1,2}):?(\d{2})(?::\d{2})?")


@dataclass(frozen=True, slots=True)
class Registered:
    """What the register knows about an aircraft: its base's zone, and its last day if it was withdrawn."""

    zone: ZoneInfo
    withdrawn_on: date | None = None


class FlightRow(NamedTuple):
    """One flight as its row says. A tuple, because a file has hundreds of thousands and these are cheap."""

    row: int
    registration: str
    day: date
    off_at: datetime
    minutes: int
    landings: int
    cycles: int
    reference: str


@dataclass(frozen=True, slots=True)
class CellError:
    """One wrong cell: row as a spreadsheet counts it (the heading is row 1), column, value, and what to do."""

    row: int
    column: str
    value: str
    detail: str
    remedy: str

    def as_dict(self) -> dict[str, str | int]:
        """For storing and sending."""
        return {
            "row": self.row,
            "column": self.column,
            "value": self.value,
            "detail": self.detail,
            "remedy": self.remedy,
        }


class WrongCell(Exception):
    """A cell that makes no sense; the reader turns it into a CellError."""

    def __init__(self, column: str, value: str, detail: str, remedy: str) -> None:
        super().__init__(detail)
        self.column, self.value, self.detail, self.remedy = column, value, detail, remedy


def read_flights(
    file: FlightFile, columns: Columns, register: Callable[[str], Registered | None], now: datetime
) -> Iterator[FlightRow | tuple[CellError, ...]]:
    """Every row that is not blank, in the file's order: a flight, or all that is wrong with the row."""
    reader = RowReader(file, columns, register, now)
    for number, cells in enumerate(file.rows(), 2):
        if any(cells):
            try:
                yield reader.flight(number, cells)
            except WrongCell:
                yield reader.errors(number, cells)


@dataclass
class RowReader:
    """Reads rows of one file; remembers what repeats (days, durations), because parsing is what takes time."""

    file: FlightFile
    columns: Columns
    register: Callable[[str], Registered | None]
    now: datetime
    days: dict[str, date] = field(default_factory=dict)
    durations: dict[str, int] = field(default_factory=dict)
    aircraft: dict[str, tuple[str, Registered]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        heading = self.file.heading
        places = {name: heading.index(value) if value else -1 for name, value in self._headings().items()}
        self._registration, self._date, self._off, self._on = (
            places[name] for name in ("registration", "date", "off", "on")
        )
        self._duration, self._landings, self._cycles, self._reference = (
            places[name] for name in ("duration", "landings", "cycles", "reference")
        )

    def _headings(self) -> dict[str, str]:
        named = self.columns.as_dict()
        return {name: value for name, value in named.items() if name not in ("zone", "numbers")}

    def flight(self, number: int, cells: Sequence[str]) -> FlightRow:
        """The flight of one row; raises WrongCell at the first cell that makes no sense."""
        if len(cells) != len(self.file.heading):
            cells = self._filled(cells)
        registration, registered = self._aircraft(cells)
        off_at = self._off_at(cells, registered)
        return FlightRow(
            number,
            registration,
            off_at.date() if registered.zone.key == "UTC" else off_at.astimezone(registered.zone).date(),
            off_at,
            self._minutes(cells, registered, off_at),
            self._count(cells, self._landings),
            self._count(cells, self._cycles),
            self._reference_of(cells),
        )

    def errors(self, number: int, cells: Sequence[str]) -> tuple[CellError, ...]:
        """Everything that is wrong with one row."""
        found: list[CellError] = []
        try:
            cells = self._filled(cells)
            registered = self._collect(number, found, lambda: self._aircraft(cells)[1])
            known = registered or Registered(ZoneInfo("UTC"))
            off_at = self._collect(number, found, lambda: self._off_at(cells, known))
            if self._duration >= 0 or off_at is not None:
                self._collect(number, found, lambda: self._minutes(cells, known, off_at or self.now))
            for place in (self._landings, self._cycles):
                self._collect(number, found, partial(self._count, cells, place))
            self._collect(number, found, lambda: self._reference_of(cells))
        except WrongCell as wrong:
            found.append(_error(number, wrong))
        return tuple(found)

    def _collect(self, number: int, found: list[CellError], read: Callable[[], Read]) -> Read | None:
        try:
            return read()
        except WrongCell as wrong:
            found.append(_error(number, wrong))
            return None

    def _filled(self, cells: Sequence[str]) -> Sequence[str]:
        """A short row ends in empty cells; a long one has lost its columns."""
        missing = len(self.file.heading) - len(cells)
        if missing < 0 and any(cell.strip() for cell in cells[missing:]):
            raise WrongCell(
                "row",
                " ".join(cells[missing:])[:60],
                "has more cells than the heading",
                "check for separators inside a cell, and put quotes around it",
            )
        return [*cells, *[""] * missing] if missing > 0 else cells[: len(self.file.heading)]

    def _wrong(self, place: int, value: str, detail: str, remedy: str) -> WrongCell:
        return WrongCell(self.file.heading[place], value[:60], detail, remedy)

    def _aircraft(self, cells: Sequence[str]) -> tuple[str, Registered]:
        text = cells[self._registration]
        known = self.aircraft.get(text)
        if known is not None:
            return known
        name = text.strip().upper()
        if not name:
            raise self._wrong(self._registration, "", "is empty", "enter the registration")
        registered = self.register(name) if len(name) <= LONGEST_REGISTRATION else None
        if registered is None:
            remedy = "correct it, or put the aircraft on the register first"
            raise self._wrong(self._registration, text.strip(), "is not on the register", remedy)
        self.aircraft[text] = name, registered
        return name, registered

    def _off_at(self, cells: Sequence[str], registered: Registered) -> datetime:
        off_at = self._moment(cells, self._off, registered)
        if off_at is None:
            off_at = self._at_base(self._date, "", datetime.combine(self._day(cells), NOON), registered.zone)
        place = self._off if self._off >= 0 else self._date
        if off_at > self.now:
            raise self._wrong(place, cells[place], "lies in the future", "correct the day or the time")
        last = registered.withdrawn_on
        if last is not None and off_at.astimezone(registered.zone).date() > last:
            detail = f"is after the aircraft was withdrawn ({last})"
            raise self._wrong(place, cells[place], detail, "correct the day or the aircraft")
        return off_at

    def _moment(self, cells: Sequence[str], place: int, registered: Registered) -> datetime | None:
        """The moment a cell names, in UTC; None where there is no such column or cell."""
        text = cells[place].strip() if place >= 0 else ""
        if not text:
            return None
        written = self._written_moment(text)
        if written is None:
            clock = _TIME.fullmatch(text)
            if clock is None or int(clock[1]) > 23 or int(clock[2]) > 59:
                remedy = "write 2026-03-14T09:30Z, 2026-03-14 09:30, or 09:30 beside a date"
                raise self._wrong(place, text, "is not a time", remedy)
            written = datetime.combine(self._day(cells), time(int(clock[1]), int(clock[2])))
        if written.tzinfo is not None:
            return written if written.tzinfo is UTC else written.astimezone(UTC)
        if self.columns.zone is Zone.UTC:
            return written.replace(tzinfo=UTC)
        return self._at_base(place, text, written, registered.zone)

    def _written_moment(self, text: str) -> datetime | None:
        if len(text) > 10 and text[4:5] == "-":
            try:
                return datetime.fromisoformat(text)
            except ValueError:
                return None
        day, _, clock = text.rpartition(" ")
        found, hours = _WRITTEN_DATE.fullmatch(day), _TIME.fullmatch(clock)
        if found and hours and int(hours[1]) < 24 and int(hours[2]) < 60 and _written_day(day):
            return datetime.combine(_written_day(day) or date.min, time(int(hours[1]), int(hours[2])))
        return None

    def _at_base(self, place: int, text: str, local: datetime, zone: ZoneInfo) -> datetime:
        """A base-local time in UTC; the hour that is skipped when clocks go forward does not exist."""
        moment = local.replace(tzinfo=zone).astimezone(UTC)
        if moment.astimezone(zone).replace(tzinfo=None) != local:
            raise self._wrong(place, text, f"does not exist in {zone.key}: clocks went forward", "correct it")
        return moment

    def _day(self, cells: Sequence[str]) -> date:
        if self._date < 0:
            remedy = "write the day with the time: 2026-03-14 09:30"
            raise self._wrong(self._off, cells[self._off], "names no day", remedy)
        text = cells[self._date].strip()
        known = self.days.get(text)
        if known is None:
            known = _written_day(text)
            if known is None:
                detail = "is not a date" if text else "is empty"
                raise self._wrong(self._date, text, detail, "write 2026-03-14 or 14 Mar 2026")
            self.days[text] = known
        return known

    def _minutes(self, cells: Sequence[str], registered: Registered, off_at: datetime) -> int:
        if self._duration < 0:
            return self._between(cells, registered, off_at)
        text = cells[self._duration]
        known = self.durations.get(text)
        if known is None:
            known = self._within_a_day(self._duration, text, self._duration_of(text.strip()))
            self.durations[text] = known
        return known

    def _duration_of(self, text: str) -> int:
        place = self._duration
        if not text:
            raise self._wrong(place, "", "is empty", "enter how long it flew")
        if self.columns.numbers is Numbers.MINUTES and ":" not in text:
            if not (text.isascii() and text.isdigit()):
                raise self._wrong(
                    place, text, "is not whole minutes", "write 95, or 1:35 for hours and minutes"
                )
            return int(text[:9])
        try:
            return parse_hours(text)
        except RefusedInput as refusal:
            reason = refusal.reasons[0]
            raise self._wrong(place, text, reason.detail, reason.remedy) from None

    def _between(self, cells: Sequence[str], registered: Registered, off_at: datetime) -> int:
        on_at = self._moment(cells, self._on, registered)
        if on_at is None:
            raise self._wrong(self._on, "", "is empty", "enter when it landed")
        if on_at < off_at and len(cells[self._on].strip()) <= 8:
            on_at += timedelta(days=1)
        minutes = int((on_at - off_at).total_seconds() // 60)
        return self._within_a_day(self._on, cells[self._on], minutes)

    def _within_a_day(self, place: int, text: str, minutes: int) -> int:
        if minutes < 1:
            raise self._wrong(place, text, "is no flying time", "a flight lasts at least a minute")
        if minutes > LONGEST_FLIGHT:
            remedy = "check whether the column is hours or minutes"
            raise self._wrong(place, text, f"is longer than a day ({minutes} minutes)", remedy)
        return minutes

    def _count(self, cells: Sequence[str], place: int) -> int:
        text = cells[place].strip() if place >= 0 else ""
        if not text:
            return 1
        if not (text.isascii() and text.isdigit()) or int(text[:9]) > MOST_COUNT:
            raise self._wrong(place, text, "is not a number of 0 to 999", "write a whole number")
        return int(text)

    def _reference_of(self, cells: Sequence[str]) -> str:
        text = cells[self._reference].strip() if self._reference >= 0 else ""
        if len(text) > LONGEST_REFERENCE:
            raise self._wrong(self._reference, text, "is longer than 80 characters", "shorten it")
        return text


def _written_day(text: str) -> date | None:
    try:
        is_iso = len(text) == 10 and text[4] == text[7] == "-"
        return date.fromisoformat(text) if is_iso else _day_with_month_name(text)
    except ValueError:
        return None


def _day_with_month_name(text: str) -> date | None:
    found = _WRITTEN_DATE.fullmatch(text)
    if found is None or found[2].lower() not in MONTHS:
        return None
    return date(int(found[3]), MONTHS.index(found[2].lower()) + 1, int(found[1]))


def _error(number: int, wrong: WrongCell) -> CellError:
    return CellError(number, wrong.column, wrong.value, wrong.detail, wrong.remedy)


def content_key(row: FlightRow, ordinal: int) -> str:
    """The reference of a row that has none: what it says, and how many rows before it say the same.

    >>> off = datetime(2026, 3, 14, 9, 30, tzinfo=UTC)
    >>> content_key(FlightRow(2, "QX-SKA", date(2026, 3, 14), off, 95, 1, 1, ""), 0)
    'row 2026-03-14T09:30:00Z 95 min 1/1'
    """
    again = f" #{ordinal + 1}" if ordinal else ""
    return f"row {row.off_at:%Y-%m-%dT%H:%M:%SZ} {row.minutes} min {row.landings}/{row.cycles}{again}"
