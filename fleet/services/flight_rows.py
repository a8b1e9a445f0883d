"""Many flights at once, past the models: the one place where rows go to the database in bulk by hand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from django.db import connection

from fleet.flight_file.rows import FlightRow
from fleet.models import FlightEntry, ImportBatch

# Everything else stays empty until the flight is voided.
FILLED = (
    *("aircraft_id", "day", "off_at", "minutes", "landings", "cycles", "reference"),
    *("batch_id", "entered_by_id", "void_reason"),
)
Placed = tuple[int, FlightRow, str]


def insert_flights(batch: ImportBatch, flights: Iterable[Placed]) -> None:
    """Insert (aircraft key, row, reference) as flights of the batch; the database's own constraints decide.

    Building model instances takes several times longer than the database itself, and a file has hundreds of
    thousands of rows. Each database has its quick way: one prepared statement, or COPY.
    """
    table, names = FlightEntry._meta.db_table, ", ".join(FILLED)
    if connection.vendor == "postgresql":
        _copy(f"COPY {table} ({names}) FROM STDIN", _rows(batch, flights))
        return
    day, moment = connection.ops.adapt_datefield_value, connection.ops.adapt_datetimefield_value
    places = ", ".join(["%s"] * len(FILLED))
    with connection.cursor() as cursor:
        cursor.executemany(
            f"INSERT INTO {table} ({names}) VALUES ({places})",  # noqa: S608 - names of ours
            [(row[0], day(row[1]), moment(row[2]), *row[3:]) for row in _rows(batch, flights)],
        )


def _rows(batch: ImportBatch, flights: Iterable[Placed]) -> Iterable[Sequence[Any]]:
    end = (batch.pk, batch.imported_by_id, "")
    for aircraft_id, row, reference in flights:
        yield (aircraft_id, row.day, row.off_at, row.minutes, row.landings, row.cycles, reference, *end)


def _copy(statement: str, rows: Iterable[Sequence[Any]]) -> None:
    with connection.cursor() as cursor, cursor.copy(statement) as copy:
        for row in rows:
            copy.write_row(row)
