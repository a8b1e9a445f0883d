"""The tables of an aircraft's archive as CSV (RFC 4180), safe to open in a spreadsheet."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Sequence
from io import StringIO

from fleet.models import Aircraft, FlightEntry, Installation, Reading
from fleet.quantities import format_minutes
from records.models import SignedRecord
from records.selectors.aircraft_sheet import configuration
from scheduling.models import Event, Task

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")
Rows = Iterator[Sequence[object]]


def as_csv(rows: Rows) -> str:
    """Rows as CSV; a text that a spreadsheet would take for a formula gets a leading apostrophe."""
    text = StringIO()
    writer = csv.writer(text)
    for row in rows:
        writer.writerow([_safe(cell) for cell in row])
    return text.getvalue()


def _safe(cell: object) -> str:
    text = "" if cell is None else str(cell)
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def _configuration(aircraft: Aircraft) -> Rows:
    yield "zone", "position", "part number", "serial number", "fitted on", "hours since new", "since overhaul"
    for zone in configuration(aircraft):
        for row in zone.rows:
            part = row.component
            yield (
                zone.name,
                row.position.name,
                part.part_number if part else "",
                part.serial_number if part else "",
                row.fitted_on,
                format_minutes(row.since_new.minutes) if row.since_new else "",
                format_minutes(row.since_overhaul.minutes) if row.since_overhaul else "",
            )


def _installations(aircraft: Aircraft) -> Rows:
    yield (
        "position",
        "part number",
        "serial number",
        "fitted at",
        "removed at",
        "hours at fitting",
        "at removal",
        "why",
    )
    rows = Installation.objects.filter(aircraft=aircraft).select_related("component", "position")
    for row in rows.order_by("fitted_at", "pk"):
        removed = row.removed_minutes
        yield (
            row.position.code,
            row.component.part_number,
            row.component.serial_number,
            row.fitted_at.isoformat(),
            row.removed_at.isoformat() if row.removed_at else "",
            format_minutes(row.fitted_minutes),
            "" if removed is None else format_minutes(removed),
            row.removal_reason,
        )


def _meters(aircraft: Aircraft) -> Rows:
    yield "meter", "at", "value (minutes, landings or cycles)", "kind", "reason"
    rows = Reading.objects.filter(meter__aircraft=aircraft).select_related("meter")
    for row in rows.order_by("meter__kind", "at", "pk"):
        yield row.meter.kind, row.at.isoformat(), row.value, row.kind, row.reason


def _flights(aircraft: Aircraft) -> Rows:
    yield "day", "off at", "minutes", "landings", "cycles", "reference", "void", "why"
    rows = FlightEntry.objects.filter(aircraft=aircraft).order_by("off_at", "pk")
    for row in rows.iterator(chunk_size=2000):
        void = row.voided_at.isoformat() if row.voided_at else ""
        yield (
            row.day,
            row.off_at.isoformat(),
            row.minutes,
            row.landings,
            row.cycles,
            row.reference,
            void,
            row.void_reason,
        )


def _events(aircraft: Aircraft) -> Rows:
    yield (
        "event",
        "kind",
        "at",
        "position",
        "component off",
        "component on",
        "note",
        "reported by",
        "reported at",
    )
    rows = Event.objects.filter(aircraft=aircraft).select_related(
        "kind", "position", "component_off__kind", "component_on__kind"
    )
    for row in rows.order_by("at", "pk"):
        yield (
            row.pk,
            row.kind.code,
            row.at.isoformat(),
            row.position.code if row.position else "",
            row.component_off,
            row.component_on,
            row.note,
            row.reported_by_name,
            row.reported_at.isoformat(),
        )


def _tasks(aircraft: Aircraft) -> Rows:
    yield "task", "title", "state", "raised at", "closed at", "record", "why"
    rows = Task.objects.filter(aircraft=aircraft).prefetch_related("causes").order_by("raised_at", "pk")
    for row in rows:
        why = "; ".join(cause.words for cause in row.causes.all())
        closed = row.closed_at.isoformat() if row.closed_at else ""
        yield row.pk, row.title, row.state, row.raised_at.isoformat(), closed, row.proof, why


def _records(aircraft: Aircraft) -> Rows:
    yield (
        "number",
        "sequence",
        "kind",
        "title",
        "verdict",
        "completed on",
        "amends",
        "digest",
        "previous digest",
    )
    rows = SignedRecord.objects.filter(aircraft=aircraft).select_related("amends").defer("canonical")
    for row in rows.order_by("sequence"):
        amends = row.amends.number if row.amends else ""
        yield (
            row.number,
            row.sequence,
            row.kind,
            row.title,
            row.verdict,
            row.completed_on,
            amends,
            row.digest,
            row.previous_digest,
        )


TABLES: dict[str, Callable[[Aircraft], Rows]] = {
    "configuration.csv": _configuration,
    "installations.csv": _installations,
    "meters.csv": _meters,
    "flights.csv": _flights,
    "events.csv": _events,
    "tasks.csv": _tasks,
    "records.csv": _records,
}
