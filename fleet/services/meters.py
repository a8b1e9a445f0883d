"""Flights and readings: the only ways a counter moves."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day, now
from fleet.common.errors import Conflict, NotFound, Reason, wrong
from fleet.common.wording import counted, grouped, hours
from fleet.common.wording import day as day_words
from fleet.models import Aircraft, FlightEntry, Meter, Reading
from fleet.selectors.meters import KINDS, Counters, counters_at, flight_for, meter_for
from fleet.services.counting import add_to_day, count_flight, in_step, move_meters
from fleet.services.following import CountersMoved, tell_followers
from fleet.services.trail import note

LONGEST_FLIGHT = 1440
HIGHEST_READING = 600_000_000


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

    Refuses zero or negative time, more than a day, a start in the future or after the aircraft was withdrawn, and
    a reference that was used for another flight or for one that is void.
    """
    require(actor, Verb.POST_FLIGHT)
    aircraft = _locked(actor, flight.aircraft_id)
    check_flight(flight, aircraft)
    same = FlightEntry.objects.filter(aircraft=aircraft, reference=flight.reference)
    if same.exists():
        return _as_before(same.get(), flight), True
    by = Counters(flight.minutes, flight.landings, flight.cycles)
    with in_step(aircraft.pk, flight.off_at) as is_past:
        entry = FlightEntry.objects.create(
            aircraft=aircraft,
            day=local_day(aircraft.base.zone, flight.off_at),
            off_at=flight.off_at,
            reference=flight.reference,
            entered_by_id=actor.user_id,
            **by.as_dict(),
        )
        count_flight(entry, by)
    words = f"Flight of {hours(entry.minutes)}, {counted(entry.landings, 'landing')}"
    note(actor, "post_flight", "aircraft", aircraft.registration, words, {"flight": entry.pk})
    tell_followers([CountersMoved(entry.off_at, aircraft.pk, is_plain=not is_past)])
    return entry, False


def _locked(actor: Actor, aircraft_id: int) -> Aircraft:
    """The actor's aircraft, for this transaction alone to change."""
    rows = Aircraft.objects.select_related("base").select_for_update(of=("self",))
    try:
        return rows.get(operator_id=actor.operator_id, pk=aircraft_id)
    except Aircraft.DoesNotExist as error:
        raise NotFound("aircraft_not_found", "There is no such aircraft here.") from error


@transaction.atomic
def void_flight(*, actor: Actor, flight_id: int, reason: str) -> FlightEntry:
    """Take a wrong flight out of the counters, with a reason; the row stays and the meters name it."""
    require(actor, Verb.CORRECT_METER)
    entry = flight_for(actor, flight_id)
    if not reason.strip():
        raise wrong("reason", "", "is missing", "say why the flight is wrong")
    Aircraft.objects.select_for_update().get(pk=entry.aircraft_id)
    entry.refresh_from_db(fields=["voided_at"])
    if entry.voided_at is not None:
        raise Conflict("flight_void", "This flight is void already.")
    by = Counters(-entry.minutes, -entry.landings, -entry.cycles)
    with in_step(entry.aircraft_id, entry.off_at):
        entry.voided_at = now()
        entry.voided_by_id = actor.user_id
        entry.void_reason = reason.strip()[:200]
        entry.save()
        move_meters(entry, by)
        add_to_day(entry, by, -1)
    words = f"Flight of {entry.day} void: {entry.void_reason}"
    note(actor, "void_flight", "aircraft", entry.aircraft.registration, words, {"flight": entry.pk})
    tell_followers([CountersMoved(entry.off_at, entry.aircraft_id)])
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
        raise wrong("reason", "", "is missing", "say what was wrong")
    return _state(actor, reading, Reading.Kind.CORRECTION)


def check_flight(flight: NewFlight, aircraft: Aircraft) -> None:
    """Refuse a flight that cannot be, naming the field."""
    if flight.minutes < 1:
        raise wrong("minutes", str(flight.minutes), "a flight lasts at least a minute", "enter 1 or more")
    if flight.minutes > LONGEST_FLIGHT:
        raise wrong(
            "minutes", str(flight.minutes), "is longer than a day", "split it, or check the unit (minutes)"
        )
    for name, value in (("landings", flight.landings), ("cycles", flight.cycles)):
        if value < 0 or value > 999:
            raise wrong(name, str(value), "is out of range", "enter 0 to 999")
    if flight.off_at > now():
        raise wrong(
            "off_at", flight.off_at.isoformat(), "lies in the future", "enter when it left the surface"
        )
    if (
        aircraft.withdrawn_on is not None
        and local_day(aircraft.base.zone, flight.off_at) > aircraft.withdrawn_on
    ):
        raise wrong("off_at", flight.off_at.isoformat(), "is after it was withdrawn", "check the aircraft")
    if not flight.reference.strip() or len(flight.reference) > 80:
        raise wrong(
            "reference", flight.reference[:20], "is missing or too long", "enter a key of 1 to 80 characters"
        )


def _as_before(known: FlightEntry, flight: NewFlight) -> FlightEntry:
    reason = Reason(
        "is used already", "reference", flight.reference, "give this flight a reference of its own"
    )
    if known.voided_at is not None:
        raise Conflict(
            "reference_void", f"Reference {flight.reference} belongs to a flight that is void.", reason
        )
    stored = (known.off_at, known.minutes, known.landings, known.cycles)
    if stored != (flight.off_at, flight.minutes, flight.landings, flight.cycles):
        words = (
            f"Reference {flight.reference} was used for another flight ({known.day}, {known.minutes} min)."
        )
        raise Conflict("reference_used", words, reason)
    return known


def _state(actor: Actor, reading: NewReading, kind: Reading.Kind) -> Reading:
    found = meter_for(actor, reading.meter_id)
    if found.aircraft_id is not None:
        Aircraft.objects.select_for_update().get(pk=found.aircraft_id)
    meter = Meter.objects.select_for_update().get(pk=found.pk)
    _check_reading(meter, reading, kind)
    if meter.aircraft_id is not None:
        with in_step(meter.aircraft_id, reading.at):
            row = _write(actor, meter, reading, kind)
    else:
        row = _write(actor, meter, reading, kind)
    subject = found.aircraft or found.component
    words = (
        f"{meter.get_kind_display()} of {subject}, {row.get_kind_display()}: {shown(meter, reading.value)}"
    )
    note(actor, f"post_{kind}", "meter", meter.pk, words, {"reading": row.pk})
    tell_followers([CountersMoved(reading.at, meter.aircraft_id, meter.component_id)])
    return row


def shown(meter: Meter, value: int) -> str:
    """The value as people read it: hours and minutes for time, a number for the rest."""
    return hours(value) if meter.kind in ("minutes", "use_minutes") else grouped(value)


def _check_reading(meter: Meter, reading: NewReading, kind: Reading.Kind) -> None:
    if reading.at > now():
        raise wrong("at", reading.at.isoformat(), "lies in the future", "enter when it was read")
    if not 0 <= reading.value <= HIGHEST_READING:
        raise wrong("value", str(reading.value), "is out of range", f"enter 0 to {HIGHEST_READING}")
    if kind == Reading.Kind.CORRECTION:
        return
    known, remedy = _known_at(meter, reading.at), "check it, or post a correction with its reason"
    if reading.value < known:
        below = f"is below what is known for that moment ({shown(meter, known)})"
        raise wrong("value", shown(meter, reading.value), below, remedy)
    later = meter.readings.filter(at__gt=reading.at).order_by("at", "-id").first()
    if later is not None and later.kind != Reading.Kind.CORRECTION and later.value < reading.value:
        above = f"is above a later reading ({shown(meter, later.value)} on {day_words(later.at)})"
        raise wrong("value", shown(meter, reading.value), above, remedy)
    if meter.readings.filter(at=reading.at).exclude(kind=Reading.Kind.CORRECTION).exists():
        raise wrong("at", reading.at.isoformat(), "has a reading already", "post a correction if it is wrong")


def _known_at(meter: Meter, at: datetime) -> int:
    if meter.aircraft_id is not None and meter.kind in KINDS:
        return counters_at(meter.aircraft_id, at).as_dict()[meter.kind]
    last = meter.readings.filter(at__lte=at).order_by("-at", "-id").first()
    return last.value if last else 0


def _write(actor: Actor, meter: Meter, reading: NewReading, kind: Reading.Kind) -> Reading:
    """Write the row and bring the cached value up to date; a correction is named on the meter."""
    row = Reading.objects.create(
        meter=meter,
        at=reading.at,
        value=reading.value,
        kind=kind,
        reason=reading.reason.strip(),
        posted_at=now(),
        posted_by_id=actor.user_id,
    )
    if kind == Reading.Kind.CORRECTION:
        meter.last_correction = row
    meter.value = _known_at(meter, now())
    meter.as_of = max(meter.as_of or reading.at, reading.at)
    meter.save()
    return row
