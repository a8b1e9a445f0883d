"""Reads about flight files: what is in the table already, and uploads on their way in."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from django.db import connection
from django.db.models import Exists, OuterRef, QuerySet

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from fleet.models import Aircraft, FlightEntry, FlightUpload, ImportBatch

Figures = tuple[datetime, int, int, int]
PAIRS_AT_ONCE = 10_000


def known_flights(keys: Sequence[tuple[int, str]]) -> dict[tuple[int, str], Figures]:
    """Which of these aircraft and references are in the table, with off_at, minutes, landings, cycles."""
    ids: list[int] = []
    for start in range(0, len(keys), PAIRS_AT_ONCE):
        ids += _ids_of(keys[start : start + PAIRS_AT_ONCE])
    rows = FlightEntry.objects.filter(pk__in=ids) if ids else FlightEntry.objects.none()
    return {
        (aircraft_id, reference): (off_at, minutes, landings, cycles)
        for aircraft_id, reference, off_at, minutes, landings, cycles in rows.values_list(
            "aircraft_id", "reference", "off_at", "minutes", "landings", "cycles"
        )
    }


def _ids_of(keys: Sequence[tuple[int, str]]) -> list[int]:
    """The pairs go to the database as rows, and are asked one by one in there.

    As a join, PostgreSQL may read the whole table for each handful instead of looking into the unique index; and
    its driver takes longer to place thousands of values than two lists.
    """
    values: list[Any]
    if connection.vendor == "postgresql":
        pairs, values = (
            "SELECT * FROM unnest(%s::bigint[], %s::text[])",
            list(map(list, zip(*keys, strict=True))),
        )
    else:
        pairs = f"VALUES {', '.join(['(%s, %s)'] * len(keys))}"
        values = [value for pair in keys for value in pair]
    statement = (
        f"WITH wanted(aircraft_id, reference) AS ({pairs}) "  # noqa: S608 - only placeholders
        "SELECT (SELECT f.id FROM fleet_flightentry f "
        "WHERE f.aircraft_id = w.aircraft_id AND f.reference = w.reference) FROM wanted w"
    )
    with connection.cursor() as cursor:
        cursor.execute(statement, values)
        return [pk for (pk,) in cursor.fetchall() if pk is not None]


def flown_aircraft(actor: Actor) -> set[int]:
    """Keys of the operator's aircraft that have flights in the table."""
    flights = FlightEntry.objects.filter(aircraft=OuterRef("pk"))
    return set(
        Aircraft.objects.filter(Exists(flights), operator_id=actor.operator_id).values_list("pk", flat=True)
    )


def import_batches(actor: Actor) -> QuerySet[ImportBatch]:
    """The operator's imported files, newest first."""
    return (
        ImportBatch.objects.filter(operator_id=actor.operator_id)
        .select_related("imported_by")
        .order_by("-imported_at", "-id")
    )


def import_batch_for(actor: Actor, batch_id: int) -> ImportBatch:
    """One imported file; a stranger's is not found."""
    row = import_batches(actor).filter(pk=batch_id).first()
    if row is None:
        raise NotFound("flight_import_not_found", "There is no such flight import here.")
    return row


def open_uploads(actor: Actor) -> QuerySet[FlightUpload]:
    """The operator's flight files that are not imported: looked through, on their way, refused, broken off."""
    rows = FlightUpload.objects.filter(operator_id=actor.operator_id).exclude(state=FlightUpload.State.DONE)
    return rows.select_related("uploaded_by").order_by("-uploaded_at", "-id")


def flight_upload_for(actor: Actor, upload_id: int) -> FlightUpload:
    """One file on its way in; a stranger's is not found."""
    row = FlightUpload.objects.filter(pk=upload_id, operator_id=actor.operator_id).first()
    if row is None:
        raise NotFound("flight_upload_not_found", "There is no such flight file here.")
    return row
