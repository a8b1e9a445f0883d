"""The status of one aircraft on paper: all six items of 14 CFR 91.417(a)(2), open work and the records behind it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from fleet.common.pdf.model import (
    Align,
    Cell,
    Column,
    Document,
    Level,
    Mark,
    Notice,
    Paragraphs,
    Section,
    Table,
)
from fleet.common.wording import day as day_words
from fleet.common.wording import grouped
from fleet.common.wording import hours as hours_words
from fleet.common.wording import moment as moment_words
from fleet.selectors.meters import Counters
from records.selectors.aircraft_sheet import Fitted
from records.selectors.status_items import HEADINGS, NO_FORMS, DueStatusItem, StatusItems
from scheduling.status import FlightState, OperatingStatus

SAFETY = (
    "Made from what is recorded here on the day printed. The aircraft's approved maintenance data, the "
    "authority's rules and licensed staff decide; this report does not replace them."
)
LEVELS = {
    FlightState.FREE_TO_FLY: Level.CLEAR,
    FlightState.RESTRICTED_ICING: Level.SOON,
    FlightState.NOT_RELEASABLE: Level.STOP,
}


def status_document(
    items: StatusItems, status: OperatingStatus, issuer: str, written_at: datetime
) -> Document:
    """The page model of an aircraft's status."""
    aircraft = items.aircraft
    stands = moment_words(written_at)
    reasons = "\n".join(reason.words for reason in status.reasons)
    return Document(
        title=f"Status of {aircraft.registration}",
        subtitle="Status items that stay with the aircraft (14 CFR 91.417(a)(2))",
        sections=(
            Notice(reasons or "Nothing open stops a flight.", LEVELS[status.state], status.headline()),
            *_sections(items),
            Paragraphs((SAFETY,)),
        ),
        issuer=issuer,
        registration=aircraft.registration,
        identity=(
            ("Aircraft", aircraft.registration),
            ("Type", aircraft.aircraft_type.name),
            ("Serial number", aircraft.serial_number),
            ("Base", aircraft.base.name),
            ("Total time in service", hours_words(items.airframe.minutes)),
            ("Landings", grouped(items.airframe.landings)),
        ),
        printed=stands,
        written_at=written_at,
        wide=True,
    )


def _heading(item: str) -> str:
    return f"({item}) {HEADINGS[item]}"


def _sections(items: StatusItems) -> Iterable[Section]:
    yield _turning(items)
    yield _due("ii", items.life_limits, "No life-limited part is recorded.")
    yield _overhauled(items.overhauled)
    yield _due("iv", items.inspections, "No inspection is recorded.")
    yield _due("v", items.directives, "No directive is recorded.")
    yield Paragraphs((NO_FORMS,), heading=_heading("vi"))


def _turning(items: StatusItems) -> Table:
    rows: list[tuple[Cell, ...]] = [("Airframe", items.aircraft.serial_number, *_counted(items.airframe))]
    rows += [
        (row.position.name, _serial(row), *_counted(row.since_new or Counters())) for row in items.turning
    ]
    columns = (
        Column("What", 30),
        Column("Serial number", 24),
        Column("Time in service", 18, Align.RIGHT),
        Column("Landings", 14, Align.RIGHT),
        Column("Cycles", 14, Align.RIGHT),
    )
    return Table(columns, tuple(rows), heading=_heading("i"))


def _counted(counters: Counters) -> tuple[str, str, str]:
    return hours_words(counters.minutes), grouped(counters.landings), grouped(counters.cycles)


def _serial(row: Fitted) -> str:
    component = row.component
    return f"{component.part_number} / {component.serial_number}" if component else ""


def _overhauled(rows: Iterable[Fitted]) -> Table:
    found = tuple(
        (row.position.name, _serial(row), *_counted(row.since_overhaul or Counters())) for row in rows
    )
    columns = (
        Column("Where", 30),
        Column("Part / serial number", 24),
        Column("Time since overhaul", 18, Align.RIGHT),
        Column("Landings", 14, Align.RIGHT),
        Column("Cycles", 14, Align.RIGHT),
    )
    return Table(columns, found, heading=_heading("iii"), empty="No overhaul is recorded.")


def _due(item: str, lines: Iterable[DueStatusItem], empty: str) -> Table:
    rows = tuple(
        (
            f"{line.row.code} {line.row.title}" + (f"\n{line.row.subject}" if line.row.subject else ""),
            line.source,
            _done(line),
            line.row.due_at or "no further",
            line.row.words,
            Mark(Level(line.row.level), line.row.state_words),
        )
        for line in lines
    )
    columns = (
        Column("Item", 34),
        Column("Source, revision", 24),
        Column("Last done, flight time since, proof", 24),
        Column("Next at", 16),
        Column("What is left", 24),
        Column("State", 14),
    )
    return Table(columns, rows, heading=_heading(item), empty=empty)


def _done(line: DueStatusItem) -> str:
    on = day_words(date.fromisoformat(line.done_on)) if line.done_on else "not recorded"
    since = f"{hours_words(line.minutes_since)} ago" if line.minutes_since is not None else ""
    return "\n".join(part for part in (on, since, line.proof) if part)
