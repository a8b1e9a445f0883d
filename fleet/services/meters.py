"""Flights and readings: the only ways a counter moves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import F

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day, now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason
from fleet.models import Aircraft, FlightDay, FlightEntry, Meter, Reading
from fleet.quantities import format_minutes
from fleet.selectors.aircraft import aircraft_by_id
from fleet.selectors.meters import KINDS, Counters, counters_at
from fleet.services.trail import note

LONGEST_FLIGHT = 1440


@dataclass(frozen=True, slots=True)
class NewFlight:
    """One flight as posted; `reference` makes sending it twice harmless."""

    aircraft_id: int
    off_at: datetime
    minutes: int
    landings: int
    cycles: int
    reference: str


@dataclass(frozen=True, slots=True)
class NewReading:
    """What a meter showed at a moment."""

    meter_id: int
    at: datetime
    value: int
    reason: str = ""


@transaction.atomic
def post_flight(*, actor: Actor, flight: NewFlight) -> tuple[FlightEntry, bool]:
    """Post one flight and move the counters; the flag is True where the same reference was posted before.

    Refuses zero or negative time, more than a day, a start in the future, a reference reused for another flight.
    """
    require(actor, Verb.POST_FLIGHT)
    aircraft = aircraft_by_id(actor, flight.aircraft_id)
    check_flight(flight)
    Aircraft.objects.select_for_update().get(pk=aircraft.pk)
    known = FlightEntry.objects.filter(aircraft=aircraft, reference=flight.reference).first()
    if known is not None:
        _check_same(known, flight)
        return known, True
    entry = FlightEntry.objects.create(
        aircraft=aircraft,
        day=local_day(aircraft.base.zone, flight.off_at),
        off_at=flight.off_at,
        minutes=flight.minutes,
        landings=flight.landings,
        cycles=flight.cycles,
        reference=flight.reference,
        entered_by_id=actor.user_id,
    )
    _move(entry, Counters(flight.minutes, flight.landings, flight.cycles))
    words = f"Flight of {format_minutes(entry.minutes)} h, {entry.landings} landings"
    note(actor, "post_flight", "aircraft", aircraft.registration, words, {"flight": entry.pk})
    return entry, False


@transaction.atomic
def void_flight(*, actor: Actor, flight_id: int, reason: str) -> FlightEntry:
    """Take a wrong flight out of the counters, with a reason; the row stays. The counters go down by correction."""
    require(actor, Verb.CORRECT_METER)
    entry = FlightEntry.objects.filter(pk=flight_id, aircraft__operator_id=actor.operator_id).first()
    if entry is None:
        raise NotFound("flight_not_found", "There is no such flight here.")
    if not reason.strip():
        raise _wrong("reason", "", "is missing", "say why the flight is wrong")
    if entry.voided_at is not None:
        raise Conflict("flight_void", "This flight is void already.")
    Aircraft.objects.select_for_update().get(pk=entry.aircraft_id)
    entry.voided_at = now()
    entry.voided_by_id = actor.user_id
    entry.void_reason = reason.strip()[:200]
    entry.save()
    _take_back(actor, entry)
    note(
        actor, "void_flight", "aircraft", entry.aircraft.registration, f"Flight of {entry.day} void: {reason}"
    )
    return entry


@transaction.atomic
def post_reading(*, actor: Actor, reading: NewReading) -> Reading:
    """State what a meter showed. Refuses a value below what is known for that moment: that is a correction."""
    require(actor, Verb.POST_FLIGHT)
    return _state(actor, reading, Reading.Kind.READING)


@transaction.atomic
def correct_reading(*, actor: Actor, reading: NewReading) -> Reading:
    """Put a meter right, up or down, with a reason; a new row, the old ones stay."""
    require(actor, Verb.CORRECT_METER)
    if not reading.reason.strip():
        raise _wrong("reason", "", "is missing", "say what was wrong")
    return _state(actor, reading, Reading.Kind.CORRECTION)


def check_flight(flight: NewFlight) -> None:
    """Refuse a flight that cannot be, naming the field: shared by single entry and by file import."""
    if flight.minutes < 1:
        raise _wrong("minutes", str(flight.minutes), "a flight lasts at least a minute", "enter 1 or more")
    if flight.minutes > LONGEST_FLIGHT:
        raise _wrong(
            "minutes", str(flight.minutes), "is longer than a day", "split it, or check the unit (minutes)"
        )
    for name, value in (("landings", flight.landings), ("cycles", flight.cycles)):
        if value < 0 or value > 999:
            raise _wrong(name, str(value), "is out of range", "enter 0 to 999")
    if flight.off_at > now():
        raise _wrong(
            "off_at", flight.off_at.isoformat(), "lies in the future", "enter when it left the surface"
        )
    if not flight.reference.strip():
        raise _wrong("reference", "", "is missing", "enter the flight's own number or key")


def _check_same(known: FlightEntry, flight: NewFlight) -> None:
    same = (known.off_at, known.minutes, known.landings) == (flight.off_at, flight.minutes, flight.landings)
    if not same:
        raise Conflict(
            "reference_used",
            f"Reference {flight.reference} was used for another flight ({known.day}, {known.minutes} min).",
            Reason(
                "is used already", "reference", flight.reference, "give this flight a reference of its own"
            ),
        )


def _move(entry: FlightEntry, by: Counters) -> None:
    """Move meters and the day's sums by one flight (a flight before the last reading is in that reading already)."""
    for kind, amount in by.as_dict().items():
        meter, _ = Meter.objects.get_or_create(aircraft_id=entry.aircraft_id, component=None, kind=kind)
        last = meter.readings.order_by("-at", "-id").first()
        if amount and (last is None or entry.off_at > last.at):
            meter.value = meter.value + amount
            meter.as_of = max(meter.as_of or entry.off_at, entry.off_at)
            meter.save(update_fields=["value", "as_of"])
    add_to_day(entry.aircraft_id, entry, by, 1)


def add_to_day(aircraft_id: int, entry: FlightEntry, by: Counters, flights: int) -> None:
    """Add one flight's figures to (or, negative, take them from) its day's sums."""
    FlightDay.objects.get_or_create(aircraft_id=aircraft_id, day=entry.day)
    FlightDay.objects.filter(aircraft_id=aircraft_id, day=entry.day).update(
        minutes=F("minutes") + by.minutes,
        landings=F("landings") + by.landings,
        cycles=F("cycles") + by.cycles,
        flights=F("flights") + flights,
    )


def _take_back(actor: Actor, entry: FlightEntry) -> None:
    after = counters_at(entry.aircraft_id, now())
    for kind, value in after.as_dict().items():
        meter = Meter.objects.filter(aircraft_id=entry.aircraft_id, component=None, kind=kind).first()
        if meter is not None and value < meter.value:
            reading = NewReading(
                meter.pk, now(), value, f"flight of {entry.day} void: {entry.void_reason}"[:200]
            )
            _write(actor, meter, reading, Reading.Kind.CORRECTION)
    add_to_day(entry.aircraft_id, entry, Counters(-entry.minutes, -entry.landings, -entry.cycles), -1)


def _state(actor: Actor, reading: NewReading, kind: Reading.Kind) -> Reading:
    meter = (
        Meter.objects.select_for_update()
        .filter(pk=reading.meter_id)
        .select_related("aircraft", "component")
        .first()
    )
    owner = meter and (meter.aircraft or meter.component)
    if meter is None or owner is None or owner.operator_id != actor.operator_id:
        raise NotFound("meter_not_found", "There is no such meter here.")
    if reading.at > now():
        raise _wrong("at", reading.at.isoformat(), "lies in the future", "enter when it was read")
    known = _known_at(meter, reading.at)
    if kind == Reading.Kind.READING and reading.value < known:
        raise _wrong(
            "value",
            str(reading.value),
            f"is below what is known for that moment ({known})",
            "check it, or post a correction with its reason",
        )
    row = _write(actor, meter, reading, kind)
    note(actor, f"post_{kind}", "meter", meter.pk, f"{meter.get_kind_display()} {kind}: {reading.value}")
    return row


def _known_at(meter: Meter, at: datetime) -> int:
    if meter.aircraft_id is not None and meter.kind in KINDS:
        return int(counters_at(meter.aircraft_id, at).as_dict()[meter.kind])
    last = meter.readings.filter(at__lte=at).order_by("-at", "-id").first()
    return last.value if last else 0


def _write(actor: Actor, meter: Meter, reading: NewReading, kind: Reading.Kind) -> Reading:
    """Write the row and bring the cached value up to date; a correction is named on the meter."""
    row = Reading.objects.create(
        meter=meter,
        at=reading.at,
        value=reading.value,
        kind=kind,
        reason=reading.reason,
        posted_at=now(),
        posted_by_id=actor.user_id,
    )
    if kind == Reading.Kind.CORRECTION:
        meter.last_correction = row
    meter.value = _known_at(meter, now())
    meter.as_of = now()
    meter.save()
    return row


def _wrong(field: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field, value, remedy)
    return Invalid("bad_entry", reason.sentence(), reason)
