"""Counters: what an aircraft or a component has accumulated, now or at any moment."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import OuterRef, Q, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from fleet.common.actor import Actor
from fleet.common.clock import local_day
from fleet.common.errors import NotFound
from fleet.models import Component, FlightDay, FlightEntry, Installation, Meter, Overhaul, Reading

KINDS = ("minutes", "landings", "cycles")
NOTHING = Q(pk__in=[])


@dataclass(frozen=True, slots=True)
class Counters:
    """Flight time in whole minutes, landings, engine cycles."""

    minutes: int = 0
    landings: int = 0
    cycles: int = 0

    def __add__(self, other: Counters) -> Counters:
        return Counters(
            self.minutes + other.minutes, self.landings + other.landings, self.cycles + other.cycles
        )

    def __sub__(self, other: Counters) -> Counters:
        return Counters(
            self.minutes - other.minutes, self.landings - other.landings, self.cycles - other.cycles
        )

    def as_dict(self) -> dict[str, int]:
        """By meter kind."""
        return {"minutes": self.minutes, "landings": self.landings, "cycles": self.cycles}


@dataclass(frozen=True, slots=True)
class ComponentTimes:
    """A component's totals; `since_fitted` is None while it is in store, `since_overhaul` before the first one."""

    since_new: Counters
    since_overhaul: Counters | None
    since_fitted: Counters | None
    fitted_on: date | None = None
    overhauled_on: date | None = None
    manufactured_on: date | None = None


def counters_now(aircraft_ids: Iterable[int]) -> dict[int, Counters]:
    """The cached newest counters of several aircraft: `{7: Counters(78270, 1402, 1402)}`."""
    found: dict[int, dict[str, int]] = {pk: {} for pk in aircraft_ids}
    rows = Meter.objects.filter(aircraft_id__in=list(found), kind__in=KINDS)
    for aircraft_id, kind, value in rows.values_list("aircraft_id", "kind", "value"):
        if aircraft_id is not None:
            found[aircraft_id][kind] = value
    return {pk: Counters(**values) for pk, values in found.items()}


def counters_at(aircraft_id: int, at: datetime, *, without: Q = NOTHING) -> Counters:
    """The counters at a moment: the last reading at or before it, and the flights since (both ends: at, not after).

    Before the first reading: that reading less the flights until it. `without` leaves some flights out.
    """
    near = _readings_near(aircraft_id, at)
    flights = FlightEntry.objects.filter(aircraft_id=aircraft_id, voided_at=None).exclude(without)
    sums = flights.aggregate(
        **{kind: Sum(kind, filter=_stretch(near.get(kind), at), default=0) for kind in KINDS}
    )
    return Counters(**{kind: _value(near.get(kind), at, sums[kind]) for kind in KINDS})


def _readings_near(aircraft_id: int, at: datetime) -> dict[str, Reading]:
    """By kind, the last reading at or before the moment, else the first one after it."""
    rows = Reading.objects.filter(meter=OuterRef("pk")).values("pk")
    near = Meter.objects.filter(aircraft_id=aircraft_id, kind__in=KINDS).annotate(
        near=Coalesce(
            Subquery(rows.filter(at__lte=at).order_by("-at", "-id")[:1]),
            Subquery(rows.order_by("at", "id")[:1]),
        )
    )
    found = Reading.objects.filter(pk__in=near.values("near")).select_related("meter")
    return {reading.meter.kind: reading for reading in found}


def _stretch(reading: Reading | None, at: datetime) -> Q:
    if reading is None:
        return Q(off_at__lte=at)
    if reading.at <= at:
        return Q(off_at__gt=reading.at, off_at__lte=at)
    return Q(off_at__gt=at, off_at__lte=reading.at)


def _value(reading: Reading | None, at: datetime, flown: int) -> int:
    if reading is None:
        return flown
    return reading.value + flown if reading.at <= at else max(0, reading.value - flown)


def component_times(component: Component, at: datetime, *, without: Q = NOTHING) -> ComponentTimes:
    """The component's totals at a moment, summed over every aircraft it was fitted to."""
    rows = list(
        Installation.objects.filter(component=component, fitted_at__lte=at)
        .select_related("aircraft__base")
        .order_by("fitted_at")
    )
    flown = [_flown(row, at, without) for row in rows]
    since_new = sum(
        flown, Counters(component.opening_minutes, component.opening_landings, component.opening_cycles)
    )
    last = rows[-1] if rows else None
    zone = last.aircraft.base.zone if last else "UTC"
    fitted = last if last and (last.removed_at is None or last.removed_at > at) else None
    overhaul = (
        Overhaul.objects.filter(component=component, done_on__lte=local_day(zone, at))
        .order_by("-done_on", "-id")
        .first()
    )
    return ComponentTimes(
        since_new=since_new,
        since_overhaul=since_new - _at_overhaul(overhaul) if overhaul else None,
        since_fitted=flown[-1] if fitted else None,
        fitted_on=local_day(zone, fitted.fitted_at) if fitted else None,
        overhauled_on=overhaul.done_on if overhaul else None,
        manufactured_on=component.manufactured_on,
    )


def end_of(day: date, zone: str = "UTC") -> datetime:
    """The last moment of a day at a place: `end_of(date(2026, 1, 1))` is 23:59:59.999999 UTC."""
    return datetime.combine(day, time.max, ZoneInfo(zone)).astimezone(UTC)


def _flown(row: Installation, at: datetime, without: Q) -> Counters:
    begin = Counters(row.fitted_minutes, row.fitted_landings, row.fitted_cycles)
    if row.removed_at is not None and row.removed_at <= at:
        return Counters(row.removed_minutes or 0, row.removed_landings or 0, row.removed_cycles or 0) - begin
    return counters_at(row.aircraft_id, at, without=without) - begin


def _at_overhaul(overhaul: Overhaul) -> Counters:
    return Counters(overhaul.since_new_minutes, overhaul.since_new_landings, overhaul.since_new_cycles)


def flight_days(aircraft_ids: Iterable[int], since: date, until: date) -> QuerySet[FlightDay]:
    """Daily sums of several aircraft over a stretch, both ends included."""
    return FlightDay.objects.filter(aircraft_id__in=list(aircraft_ids), day__range=(since, until))


def meters(actor: Actor) -> QuerySet[Meter]:
    """Every meter of the operator, with the moment of its newest reading as `read_at`."""
    mine = Q(aircraft__operator_id=actor.operator_id) | Q(component__operator_id=actor.operator_id)
    newest = Reading.objects.filter(meter=OuterRef("pk")).order_by("-at", "-id").values("at")[:1]
    return (
        Meter.objects.filter(mine)
        .select_related("aircraft__base", "component__kind")
        .annotate(read_at=Subquery(newest))
        .order_by("id")
    )


def meter_for(actor: Actor, meter_id: int) -> Meter:
    """One meter; a stranger's is not found."""
    row = meters(actor).filter(pk=meter_id).first()
    if row is None:
        raise NotFound("meter_not_found", "There is no such meter here.")
    return row


def readings(meter: Meter) -> QuerySet[Reading]:
    """What was stated about a meter, newest first."""
    return meter.readings.select_related("posted_by").order_by("-at", "-id")


def flights(actor: Actor) -> QuerySet[FlightEntry]:
    """The operator's flights, newest first; void ones included."""
    return (
        FlightEntry.objects.filter(aircraft__operator_id=actor.operator_id)
        .select_related("aircraft__base", "entered_by", "voided_by", "batch")
        .order_by("-off_at", "-id")
    )


def flight_for(actor: Actor, flight_id: int) -> FlightEntry:
    """One flight; a stranger's is not found."""
    row = flights(actor).filter(pk=flight_id).first()
    if row is None:
        raise NotFound("flight_not_found", "There is no such flight here.")
    return row


def missing_kinds(aircraft_id: int) -> list[str]:
    """Which of the three usual meters the aircraft has not got yet."""
    known = set(Meter.objects.filter(aircraft_id=aircraft_id, component=None).values_list("kind", flat=True))
    return [kind for kind in KINDS if kind not in known]
