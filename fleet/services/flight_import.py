"""Flight files: what one would do, and doing it, all or nothing.

What falls due is worked out again by the rooms above, when their clock next looks or when their door asks.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import islice
from typing import Any, BinaryIO
from zoneinfo import ZoneInfo

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Invalid, Reason
from fleet.flight_file.columns import Columns, choose_columns, guess_columns, open_flight_file
from fleet.flight_file.rows import CellError, FlightRow, Registered, content_key, read_flights
from fleet.models import Aircraft, AircraftType, Base, ImportBatch
from fleet.selectors.flight_files import flown_aircraft, known_flights
from fleet.services.flight_rows import insert_flights
from fleet.services.flight_totals import Totals
from fleet.services.registering import new_aircraft_in_bulk
from fleet.services.trail import note

CHUNK = 5_000
MOST_ERRORS_KEPT = 500
MOST_REASONS = 50
Figures = tuple[datetime, int, int, int]


@dataclass(frozen=True, slots=True)
class Newcomers:
    """Unknown registrations become aircraft of this type at this base."""

    type_code: str
    base_code: str


@dataclass(frozen=True, slots=True)
class FlightFileInput:
    """A file and how to take it: `columns` overrides the guess, field by field; see `fleet.flight_file.columns`."""

    filename: str
    content: BinaryIO
    columns: Mapping[str, str] = field(default_factory=dict)
    leave_out_bad_rows: bool = False
    newcomers: Newcomers | None = None


@dataclass
class ImportReport:
    """What a file holds and what came, or would come, of it. `errors` keeps the first five hundred."""

    filename: str
    heading: tuple[str, ...] = ()
    columns: Columns = field(default_factory=Columns)
    rows: int = 0
    new: int = 0
    repeated: int = 0
    bad: int = 0
    minutes: int = 0
    landings: int = 0
    first_day: date | None = None
    last_day: date | None = None
    aircraft: set[str] = field(default_factory=set)
    created: list[str] = field(default_factory=list)
    errors: list[CellError] = field(default_factory=list)
    error_count: int = 0
    batch_id: int | None = None

    def as_dict(self) -> dict[str, Any]:
        """For storing and sending."""
        return {
            "filename": self.filename,
            "heading": list(self.heading),
            "columns": self.columns.as_dict(),
            "rows": self.rows,
            "new": self.new,
            "repeated": self.repeated,
            "bad": self.bad,
            "minutes": self.minutes,
            "landings": self.landings,
            "first_day": self.first_day.isoformat() if self.first_day else None,
            "last_day": self.last_day.isoformat() if self.last_day else None,
            "aircraft": len(self.aircraft),
            "created": self.created[:MOST_ERRORS_KEPT],
            "errors": [error.as_dict() for error in self.errors],
            "error_count": self.error_count,
            "batch": self.batch_id,
        }

    def take_errors(self, errors: tuple[CellError, ...]) -> None:
        """Count a bad row and keep what is wrong with it."""
        self.bad += 1
        self.error_count += len(errors)
        self.errors += errors[: MOST_ERRORS_KEPT - len(self.errors)]

    def take_flight(self, row: FlightRow) -> None:
        """Count a new flight."""
        self.new += 1
        self.minutes += row.minutes
        self.landings += row.landings
        self.aircraft.add(row.registration)
        self.first_day = min(self.first_day or row.day, row.day)
        self.last_day = max(self.last_day or row.day, row.day)


class BadRows(Invalid):
    """The file has rows that make no sense, and nobody chose to leave them out. `report` lists them."""

    def __init__(self, report: ImportReport) -> None:
        reasons = (
            Reason(error.detail, f"rows.{error.row}.{error.column}", error.value, error.remedy)
            for error in report.errors[:MOST_REASONS]
        )
        super().__init__(
            "flight_file_has_bad_rows",
            f"{report.bad} of {report.rows} rows cannot be imported, so nothing was. Correct them, or choose to "
            "leave them out.",
            *reasons,
        )
        self.report = report


def columns_of(content: BinaryIO) -> tuple[list[str], Columns]:
    """The heading of a file and the likely meaning of its columns. Refuses what is no text with a heading."""
    content.seek(0)
    text = io.TextIOWrapper(content, encoding="utf-8-sig", newline="")
    try:
        file = open_flight_file(text)
        return list(file.heading), guess_columns(file)
    except UnicodeDecodeError as error:
        raise _unreadable("is not UTF-8 text", "save it as CSV (UTF-8)") from error
    except csv.Error as error:
        raise _unreadable(f"cannot be read to its end ({error})", "check its quotes") from error
    finally:
        text.detach()


def check_flight_file(*, actor: Actor, file: FlightFileInput) -> ImportReport:
    """The dry run: what importing would do. Writes nothing. Refuses a file that cannot be read as flights."""
    require(actor, Verb.POST_FLIGHT)
    return _Import(actor, file).check()


@transaction.atomic
def import_flight_file(*, actor: Actor, file: FlightFileInput) -> ImportReport:
    """Import a file as one batch: all of it, or all but the bad rows where they were chosen to be left out.

    A flight that is there already (same reference; without one, same content and ordinal) changes nothing. Refuses
    a file that cannot be read, and one with bad rows (BadRows). Voided flights stay void.
    """
    require(actor, Verb.POST_FLIGHT)
    list(
        Aircraft.objects.select_for_update().filter(operator_id=actor.operator_id).order_by("pk").values("pk")
    )
    running = _Import(actor, file)
    report = running.carry_out()
    if report.bad and not file.leave_out_bad_rows:
        raise BadRows(report)
    if running.batch is not None:
        running.close(running.batch)
    return report


class _Import:
    """One reading of one file.

    `flown` are aircraft with flights from before, so that only theirs are looked up; `seen` are the new flights.
    """

    def __init__(self, actor: Actor, file: FlightFileInput) -> None:
        self.actor, self.file, self.moment = actor, file, now()
        self.report = ImportReport(file.filename)
        self.newcomers = _newcomers(actor, file.newcomers)
        self.ids: dict[str, int] = {}
        self.registered: dict[str, Registered] = {}
        self.totals = Totals(actor.operator_id)
        self.ordinals: Counter[tuple[str, Figures]] = Counter()
        self.seen: dict[tuple[str, str], Figures] = {}
        self.batch: ImportBatch | None = None
        self.flown = flown_aircraft(actor)
        rows = Aircraft.objects.filter(operator_id=actor.operator_id)
        for name, key, zone, last in rows.values_list("registration", "pk", "base__zone", "withdrawn_on"):
            self.ids[name.upper()] = key
            self.registered[name.upper()] = Registered(ZoneInfo(zone), last)

    def check(self) -> ImportReport:
        """Read everything, write nothing."""
        for chunk in self._chunks():
            self._count_newcomers(chunk)
            self._take(chunk)
        return self.report

    def carry_out(self) -> ImportReport:
        """Read everything and write it, until a bad row says that all will be taken back anyway."""
        for chunk in self._chunks():
            if self.report.bad and not self.file.leave_out_bad_rows:
                self._take(chunk)
                continue
            born = self._count_newcomers(chunk)
            if born and self.newcomers is not None:
                self.ids |= new_aircraft_in_bulk(
                    actor=self.actor, aircraft_type=self.newcomers[0], base=self.newcomers[1], names=born
                )
            self._insert(self._take(chunk))
        return self.report

    def close(self, batch: ImportBatch) -> None:
        """Move meters and days, complete the batch, leave one line in the trail."""
        report = self.report
        batch.rows, batch.imported = report.rows, report.new
        batch.repeated, batch.left_out = report.repeated, report.bad
        batch.digest = _digest(self.file.content)
        batch.save()
        self.totals.write(batch)
        report.batch_id = batch.pk
        words = f"{report.new} flights of {len(report.aircraft)} aircraft imported from {report.filename}"
        detail = {"repeated": report.repeated, "left_out": report.bad, "created": len(report.created)}
        note(self.actor, "import_flights", "flight import", batch.pk, words, detail)

    def _chunks(self) -> Iterator[list[FlightRow]]:
        """Good rows in handfuls; bad ones go to the report."""
        reading = self._reading()
        while rows := list(islice(reading, CHUNK)):
            self.report.rows += len(rows)
            good = []
            for row in rows:
                if isinstance(row, FlightRow):
                    good.append(row)
                else:
                    self.report.take_errors(row)
            yield good

    def _reading(self) -> Iterator[FlightRow | tuple[CellError, ...]]:
        self.file.content.seek(0)
        text = io.TextIOWrapper(self.file.content, encoding="utf-8-sig", newline="")
        try:
            opened = open_flight_file(text)
            self.report.heading = opened.heading
            self.report.columns = choose_columns(opened, self.file.columns)
            yield from read_flights(opened, self.report.columns, self._register, self.moment)
        except UnicodeDecodeError as error:
            raise _unreadable("is not UTF-8 text", "save it as CSV (UTF-8)") from error
        except csv.Error as error:
            raise _unreadable(f"cannot be read to its end ({error})", "check its quotes") from error
        finally:
            text.detach()

    def _register(self, registration: str) -> Registered | None:
        """What the register knows; where newcomers are welcome, their base's zone."""
        known = self.registered.get(registration)
        if known is None and self.newcomers is not None:
            known = self.registered[registration] = Registered(ZoneInfo(self.newcomers[1].zone))
        return known

    def _count_newcomers(self, chunk: list[FlightRow]) -> list[str]:
        names = {row.registration for row in chunk} - self.ids.keys() - set(self.report.created)
        self.report.created += sorted(names)
        return sorted(names)

    def _take(self, chunk: list[FlightRow]) -> list[tuple[FlightRow, str]]:
        """The flights of a handful that are new, with their references; the others are counted or refused."""
        named = [(row, row.reference or self._content_key(row)) for row in chunk]
        stored = known_flights(
            [(pk, key) for row, key in named if (pk := self.ids.get(row.registration)) in self.flown]
        )
        fresh = []
        for row, reference in named:
            figures = (row.off_at, row.minutes, row.landings, row.cycles)
            place = (row.registration, reference)
            known = stored.get((self.ids.get(row.registration, 0), reference)) or self.seen.get(place)
            if known is None:
                self.seen[place] = figures
                self.report.take_flight(row)
                fresh.append((row, reference))
            elif known == figures:
                self.report.repeated += 1
            else:
                self.report.take_errors((self._reused(row, reference),))
        return fresh

    def _content_key(self, row: FlightRow) -> str:
        content = (row.registration, (row.off_at, row.minutes, row.landings, row.cycles))
        self.ordinals[content] += 1
        return content_key(row, self.ordinals[content] - 1)

    def _reused(self, row: FlightRow, reference: str) -> CellError:
        detail = "belongs to another flight of this aircraft"
        remedy = "give this flight a reference of its own; void the other one if it is wrong"
        return CellError(row.row, self.report.columns.reference, reference, detail, remedy)

    def _insert(self, flights: list[tuple[FlightRow, str]]) -> None:
        if not flights:
            return
        if self.batch is None:
            self.batch = self._open_batch()
        placed = [(self.ids[row.registration], row, reference) for row, reference in flights]
        for aircraft_id, row, _ in placed:
            self.totals.add(aircraft_id, row)
        insert_flights(self.batch, placed)

    def _open_batch(self) -> ImportBatch:
        return ImportBatch.objects.create(
            operator_id=self.actor.operator_id,
            filename=self.file.filename[:200],
            digest="",
            mapping=self.report.columns.as_dict(),
            rows=0,
            imported=0,
            repeated=0,
            left_out=0,
            imported_at=self.moment,
            imported_by_id=self.actor.user_id,
        )


def _newcomers(actor: Actor, wanted: Newcomers | None) -> tuple[AircraftType, Base] | None:
    if wanted is None:
        return None
    require(actor, Verb.EDIT_FLEET)
    aircraft_type = AircraftType.objects.filter(operator_id=actor.operator_id, code=wanted.type_code).first()
    base = Base.objects.filter(operator_id=actor.operator_id, code=wanted.base_code).first()
    if aircraft_type is None:
        raise _unknown("aircraft_type", wanted.type_code, "type")
    if base is None:
        raise _unknown("base", wanted.base_code, "base")
    return aircraft_type, base


def _unknown(field_name: str, value: str, what: str) -> Invalid:
    reason = Reason(f"is no {what} here", field_name, value, f"use the code of a {what} on the register")
    return Invalid("bad_newcomers", reason.sentence(), reason)


def _unreadable(detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, "file", "", remedy)
    return Invalid("flight_file_unusable", f"The file {detail}: {remedy}.", reason)


def _digest(content: BinaryIO) -> str:
    content.seek(0)
    words = hashlib.sha256()
    for part in iter(lambda: content.read(1 << 20), b""):
        words.update(part)
    return words.hexdigest()
