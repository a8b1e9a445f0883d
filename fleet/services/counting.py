"""Moving counters: what single flights, flight files and readings share. Called inside the caller's transaction."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from django.db import connection
from django.db.models import Q

from fleet.models import FlightDay, FlightEntry, Installation, Meter, Overhaul
from fleet.selectors.meters import (
    KINDS,
    NOTHING,
    Counters,
    component_times,
    counters_at,
    end_of,
    missing_kinds,
)

# These run while a flight waits to be kept; putting such statements together from models takes far longer than they do.
MOVE_METERS = """
UPDATE fleet_meter SET
value = value + CASE kind WHEN 'minutes' THEN %s WHEN 'landings' THEN %s ELSE %s END,
as_of = CASE WHEN as_of > %s THEN as_of ELSE %s END, last_void_id = COALESCE(%s, last_void_id)
WHERE aircraft_id = %s AND component_id IS NULL AND kind IN ('minutes', 'landings', 'cycles')
AND NOT EXISTS (SELECT 1 FROM fleet_reading AS later WHERE later.meter_id = fleet_meter.id AND later.at >= %s)
"""
ADD_TO_DAY = """
UPDATE fleet_flightday SET
minutes = minutes + %s, landings = landings + %s, cycles = cycles + %s, flights = flights + %s
WHERE aircraft_id = %s AND day = %s
"""
IS_PAST = """
SELECT EXISTS (
  SELECT 1 FROM fleet_installation AS sat LEFT JOIN fleet_overhaul AS overhaul
  ON overhaul.component_id = sat.component_id AND overhaul.done_on >= %s
  WHERE sat.aircraft_id = %s AND (
    sat.fitted_at >= %s OR sat.removed_at >= %s OR (sat.removed_at IS NULL AND overhaul.id IS NOT NULL)
  )
)
"""


def count_flight(entry: FlightEntry, by: Counters) -> None:
    """Move the meters and the day by a flight just posted; meters not there until now begin with it."""
    if move_meters(entry, by) < len(KINDS):
        Meter.objects.bulk_create(
            Meter(aircraft_id=entry.aircraft_id, kind=kind, value=by.as_dict()[kind], as_of=entry.off_at)
            for kind in missing_kinds(entry.aircraft_id)
        )
    add_to_day(entry, by, 1)


def move_meters(entry: FlightEntry, by: Counters) -> int:
    """Move the meters by one flight; one that was read after the flight shows it already and stays. How many moved."""
    at = connection.ops.adapt_datetimefield_value(entry.off_at)
    void = entry.pk if entry.voided_at is not None else None
    amounts = (by.minutes, by.landings, by.cycles)
    with connection.cursor() as cursor:
        cursor.execute(MOVE_METERS, [*amounts, at, at, void, entry.aircraft_id, at])
        return int(cursor.rowcount)


def add_to_day(entry: FlightEntry, by: Counters, flights: int) -> None:
    """Add one flight's figures to (or, negative, take them from) its day's sums."""
    day = connection.ops.adapt_datefield_value(entry.day)
    with connection.cursor() as cursor:
        cursor.execute(ADD_TO_DAY, [by.minutes, by.landings, by.cycles, flights, entry.aircraft_id, day])
        changed = cursor.rowcount
    if not changed:
        FlightDay.objects.create(
            aircraft_id=entry.aircraft_id, day=entry.day, flights=flights, **by.as_dict()
        )


def _is_past(aircraft_id: int, since: datetime) -> bool:
    """Whether anything was fitted, removed or overhauled since: nearly always nothing, when a flight is posted."""
    at, day = (
        connection.ops.adapt_datetimefield_value(since),
        connection.ops.adapt_datefield_value(since.date()),
    )
    with connection.cursor() as cursor:
        cursor.execute(IS_PAST, [day, aircraft_id, at, at])
        return bool(cursor.fetchone()[0])


@contextmanager
def in_step(aircraft_id: int, since: datetime, *, without: Q = NOTHING) -> Iterator[bool]:
    """Keep the counters copied into later installations and overhauls in step with a change of the past.

    Wrap a change made to the aircraft's flights or readings at or after `since`; gives whether there are any such
    copies. Where the flights are in the table already, `without` names them, so that "before" is what was known
    without them.
    """
    if not _is_past(aircraft_id, since):
        yield False
        return
    installations = [(row, _known_at_ends(row, since, without)) for row in _later(aircraft_id, since)]
    overhauls = [
        (row, component_times(row.component, end_of(row.done_on), without=without).since_new)
        for row in _later_overhauls(aircraft_id, since)
    ]
    yield True
    for installation, before in installations:
        _shift(installation, before, _known_at_ends(installation, since, NOTHING))
    for overhaul, known in overhauls:
        by = component_times(overhaul.component, end_of(overhaul.done_on)).since_new - known
        overhaul.since_new_minutes = max(0, overhaul.since_new_minutes + by.minutes)
        overhaul.since_new_landings = max(0, overhaul.since_new_landings + by.landings)
        overhaul.since_new_cycles = max(0, overhaul.since_new_cycles + by.cycles)
        overhaul.save()


def _later(aircraft_id: int, since: datetime) -> list[Installation]:
    ends_later = Q(fitted_at__gte=since) | Q(removed_at__gte=since)
    return list(Installation.objects.filter(ends_later, aircraft_id=aircraft_id))


def _later_overhauls(aircraft_id: int, since: datetime) -> list[Overhaul]:
    sat_here = Installation.objects.filter(
        Q(removed_at=None) | Q(removed_at__gte=since), aircraft_id=aircraft_id
    )
    rows = Overhaul.objects.filter(
        done_on__gte=since.date(), component_id__in=sat_here.values("component_id")
    )
    return list(rows.select_related("component"))


def _known_at_ends(row: Installation, since: datetime, without: Q) -> tuple[Counters, Counters]:
    """The aircraft's counters at fitting and at removal; an end before the change counts as nothing."""
    ends = (at if at is not None and at >= since else None for at in (row.fitted_at, row.removed_at))
    fitted, removed = (
        counters_at(row.aircraft_id, at, without=without) if at is not None else Counters() for at in ends
    )
    return fitted, removed


def _shift(row: Installation, before: tuple[Counters, Counters], after: tuple[Counters, Counters]) -> None:
    if before == after:
        return
    for kind, by in (after[0] - before[0]).as_dict().items():
        setattr(row, f"fitted_{kind}", max(0, getattr(row, f"fitted_{kind}") + by))
    if row.removed_at is not None:
        for kind, by in (after[1] - before[1]).as_dict().items():
            known = getattr(row, f"removed_{kind}") or 0
            setattr(row, f"removed_{kind}", max(getattr(row, f"fitted_{kind}"), known + by))
    row.save()
