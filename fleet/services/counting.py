"""Moving counters: what single flights, flight files and readings share. Called inside the caller's transaction."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from django.db.models import Case, Exists, F, IntegerField, OuterRef, Q, Value, When
from django.db.models.functions import Coalesce, Greatest

from fleet.models import FlightDay, FlightEntry, Installation, Meter, Overhaul, Reading
from fleet.selectors.meters import (
    KINDS,
    NOTHING,
    Counters,
    component_times,
    counters_at,
    end_of,
    missing_kinds,
)


def open_missing_meters(aircraft_id: int) -> None:
    """Every aircraft has the three usual meters."""
    Meter.objects.bulk_create(
        Meter(aircraft_id=aircraft_id, kind=kind) for kind in missing_kinds(aircraft_id)
    )


def move_meters(entry: FlightEntry, by: Counters) -> None:
    """Move the meters by one flight; one that was read after the flight shows it already and stays."""
    amounts = [When(kind=kind, then=Value(amount)) for kind, amount in by.as_dict().items()]
    read_later = Reading.objects.filter(meter=OuterRef("pk"), at__gte=entry.off_at)
    Meter.objects.filter(~Exists(read_later), aircraft_id=entry.aircraft_id, kind__in=KINDS).update(
        value=F("value") + Case(*amounts, output_field=IntegerField()),
        as_of=Greatest(Coalesce(F("as_of"), Value(entry.off_at)), Value(entry.off_at)),
        last_void=entry if entry.voided_at is not None else F("last_void"),
    )


def add_to_day(entry: FlightEntry, by: Counters, flights: int) -> None:
    """Add one flight's figures to (or, negative, take them from) its day's sums."""
    rows = FlightDay.objects.filter(aircraft_id=entry.aircraft_id, day=entry.day)
    changed = rows.update(
        minutes=F("minutes") + by.minutes,
        landings=F("landings") + by.landings,
        cycles=F("cycles") + by.cycles,
        flights=F("flights") + flights,
    )
    if not changed:
        FlightDay.objects.create(
            aircraft_id=entry.aircraft_id, day=entry.day, flights=flights, **by.as_dict()
        )


@contextmanager
def in_step(aircraft_id: int, since: datetime, *, without: Q = NOTHING) -> Iterator[bool]:
    """Keep the counters copied into later installations and overhauls in step with a change of the past.

    Wrap a change made to the aircraft's flights or readings at or after `since`; gives whether there are any such
    copies. Where the flights are in the table already, `without` names them, so that "before" is what was known
    without them.
    """
    installations = [(row, _known_at_ends(row, since, without)) for row in _later(aircraft_id, since)]
    overhauls = [
        (row, component_times(row.component, end_of(row.done_on), without=without).since_new)
        for row in _later_overhauls(aircraft_id, since)
    ]
    yield bool(installations or overhauls)
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
