"""Which column of a flight file holds what: guessed from the heading, shown, and overridable. Pure."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from itertools import chain, islice
from typing import TypeVar

from fleet.common.errors import Invalid, Reason

Choice = TypeVar("Choice", bound=StrEnum)

SAMPLE_ROWS = 50
HOURS_OF_A_DAY = 24
SEPARATORS = (",", ";", "\t")


class Zone(StrEnum):
    """In which zone a file's times are, where a time does not say so itself."""

    UTC = "utc"
    BASE = "base"


class Numbers(StrEnum):
    """How plain numbers in the duration column are meant; `1:30` is always hours and minutes."""

    MINUTES = "minutes"
    HOURS = "hours"


ALSO_CALLED: dict[str, tuple[str, ...]] = {
    "registration": ("registration", "reg", "aircraft", "tail", "tail number", "tailnum"),
    "date": ("date", "day", "flight date", "date of flight"),
    "off": ("block off", "off", "off at", "off blocks", "take off", "takeoff", "departure", "dep", "start"),
    "on": ("block on", "on", "on at", "on blocks", "landing time", "arrival", "arr", "end"),
    "duration": (
        *("minutes", "min", "hours", "duration", "flight time", "air time", "block time"),
        *("flight hours", "flight minutes", "time"),
    ),
    "landings": ("landings", "ldg", "ldgs", "number of landings"),
    "cycles": ("cycles", "engine cycles", "engine starts"),
    "reference": ("reference", "ref", "flight", "flight number", "flight no", "log", "id", "key"),
}
FIELDS = tuple(ALSO_CALLED)


@dataclass(frozen=True, slots=True)
class Columns:
    """Which heading holds what ("" where no column does), and how times and plain numbers are meant."""

    registration: str = ""
    date: str = ""
    off: str = ""
    on: str = ""
    duration: str = ""
    landings: str = ""
    cycles: str = ""
    reference: str = ""
    zone: Zone = Zone.UTC
    numbers: Numbers = Numbers.HOURS

    def as_dict(self) -> dict[str, str]:
        """For storing and showing."""
        return {name: str(value) for name, value in asdict(self).items()}


@dataclass(frozen=True, slots=True)
class FlightFile:
    """The heading of a file, its first rows to guess from, and the rest still to be read once."""

    heading: tuple[str, ...]
    sample: tuple[tuple[str, ...], ...]
    rest: Iterator[list[str]]

    def rows(self) -> Iterator[Sequence[str]]:
        """Every row below the heading; a second call finds only the sample."""
        return chain(self.sample, self.rest)


def open_flight_file(lines: Iterable[str]) -> FlightFile:
    """Read the heading and a sample. Refuses an empty file, one without rows, and two columns of one name."""
    text = iter(lines)
    first = next((line for line in text if line.strip()), "")
    separator = max(SEPARATORS, key=first.count)
    reader = csv.reader(chain([first], text), delimiter=separator, strict=True)
    heading = tuple(cell.strip() for cell in next(reader, []))
    if not any(heading):
        raise _unusable("file", "", "is empty", "choose a CSV file with a heading and one flight per row")
    twice = next((name for name in heading if name and heading.count(name) > 1), None)
    if twice is not None:
        raise _unusable("file", twice, "heads two columns", "give each column a name of its own")
    return FlightFile(heading, tuple(tuple(row) for row in islice(reader, SAMPLE_ROWS)), reader)


def guess_columns(file: FlightFile) -> Columns:
    """The likely meaning of each column: `Block off (UTC)` is when it left, `min` the duration in minutes."""
    names = {_plain(heading): heading for heading in reversed(file.heading)}
    found = {
        field: next((names[word] for word in words if word in names), "")
        for field, words in ALSO_CALLED.items()
    }
    local = any("local" in heading.lower() for heading in file.heading)
    return Columns(
        **found, zone=Zone.BASE if local else Zone.UTC, numbers=_guess_numbers(file, found["duration"])
    )


def choose_columns(file: FlightFile, chosen: Mapping[str, str]) -> Columns:
    """The guess with the user's choices put over it. Refuses headings the file has not got, and missing ones."""
    guess = guess_columns(file)
    for field in FIELDS:
        heading = chosen.get(field, "")
        if heading and heading not in file.heading:
            raise _unusable(field, heading, "is no heading of this file", f"use one of: {_listed(file)}")
    named = guess.as_dict() | {field: chosen[field] for field in FIELDS if field in chosen}
    numbers = guess.numbers
    if named["duration"] != guess.duration:
        numbers = _guess_numbers(file, named["duration"])
    choice = Columns(
        **{field: named[field] for field in FIELDS},
        zone=_one_of(Zone, "zone", chosen.get("zone") or guess.zone),
        numbers=_one_of(Numbers, "numbers", chosen.get("numbers") or numbers),
    )
    _check_complete(file, choice)
    return choice


def _check_complete(file: FlightFile, columns: Columns) -> None:
    remedy = f"say which one it is: {_listed(file)}"
    if not columns.registration:
        raise _unusable("registration", "", "has no column", remedy)
    if not columns.date and not columns.off:
        raise _unusable("date", "", "has no column", remedy)
    if not columns.duration and not (columns.off and columns.on):
        raise _unusable("duration", "", "has no column, nor are there off and on times", remedy)


def _one_of(kind: type[Choice], field: str, value: str) -> Choice:
    try:
        return kind(value)
    except ValueError:
        raise _unusable(field, value, "is not known", f"use one of: {', '.join(kind)}") from None


def _plain(heading: str) -> str:
    """`Block_off (UTC)` and `block off` are the same."""
    bare = re.sub(r"[^a-z]+", " ", re.sub(r"\(.*?\)", " ", heading.lower()))
    return " ".join(word for word in bare.split() if word not in ("utc", "local"))


def _guess_numbers(file: FlightFile, heading: str) -> Numbers:
    if not heading or "hour" in heading.lower() or heading.lower() in ("h", "hrs"):
        return Numbers.HOURS
    if re.search(r"\bmin", heading.lower().replace("_", " ")):
        return Numbers.MINUTES
    place = file.heading.index(heading)
    values = [row[place].strip() for row in file.sample if len(row) > place and row[place].strip()]
    whole = values and all(value.isdigit() for value in values)
    return Numbers.MINUTES if whole and max(map(int, values)) > HOURS_OF_A_DAY else Numbers.HOURS


def _listed(file: FlightFile) -> str:
    return ", ".join(heading for heading in file.heading if heading)


def _unusable(field: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field, value, remedy)
    return Invalid(
        "flight_file_unusable", f"This file cannot be read as flights: {reason.sentence()}.", reason
    )
