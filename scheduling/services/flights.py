"""Flights as the scheduling room takes them: the counters move and what is due moves with them, together."""

from __future__ import annotations

from django.db import transaction

from fleet.common.actor import Actor
from fleet.models import FlightEntry
from fleet.services.meters import NewFlight, post_flight, void_flight
from scheduling.services.due_facts import reckon_aircraft
from scheduling.services.due_flown import after_flight
from scheduling.services.relief import refresh_reliefs


@transaction.atomic
def post_flight_and_refresh(*, actor: Actor, flight: NewFlight) -> tuple[FlightEntry, bool]:
    """Post one flight, move what is due on the aircraft and the relief clocks that count it; once by reference."""
    entry, was_there = post_flight(actor=actor, flight=flight)
    if not was_there:
        after_flight(entry.aircraft_id)
        refresh_reliefs([entry.aircraft_id])
    return entry, was_there


@transaction.atomic
def void_flight_and_refresh(*, actor: Actor, flight_id: int, reason: str) -> FlightEntry:
    """Take a flight back, and reckon everything on its aircraft anew."""
    entry = void_flight(actor=actor, flight_id=flight_id, reason=reason)
    reckon_aircraft([entry.aircraft_id])
    refresh_reliefs([entry.aircraft_id])
    return entry
