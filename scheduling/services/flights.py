"""Counters moved in the fleet room: what is due, and the relief clocks that count, move with them at once."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import Q

from fleet.services.following import CountersMoved
from scheduling.gather.due import items_on
from scheduling.models import AircraftUse, Applicability
from scheduling.services.due_facts import CHUNK, reckon_aircraft, reckon_items
from scheduling.services.due_flown import after_flight
from scheduling.services.relief import refresh_reliefs


def keep_in_step(moves: Sequence[CountersMoved]) -> None:
    """Follow the fleet's counters in its own transaction: see `fleet.services.following`."""
    # In one order everywhere, so that two of them never wait for each other.
    in_order = sorted(moves, key=lambda move: move.aircraft_id or 0)
    anew = [move for move in in_order if not _follows_from_columns(move)]
    flown = [move.aircraft_id for move in anew if move.aircraft_id is not None]
    if len(flown) <= CHUNK:
        _reckon(anew, flown)
    else:
        leave_to_beat(flown)
    refresh_reliefs([move.aircraft_id for move in moves if move.aircraft_id is not None])


def _follows_from_columns(move: CountersMoved) -> bool:
    return move.is_plain and move.aircraft_id is not None and after_flight(move.aircraft_id, move.since)


def _reckon(moves: Sequence[CountersMoved], flown: Sequence[int]) -> None:
    """Anew: these aircraft, components whose own counter moved, and those that sat there then but no longer do."""
    wanted = Q(pk__in=[])
    rewritten = [move for move in moves if not move.is_plain]
    for move in rewritten:
        left = Q(component__installations__aircraft=move.aircraft_id)
        left &= Q(component__installations__removed_at__gte=move.since)
        wanted |= Q(component=move.component_id) if move.component_id is not None else left
    elsewhere = Applicability.objects.filter(wanted, component__isnull=False)
    if rewritten and elsewhere.exists():
        reckon_items(Applicability.objects.filter(pk__in=elsewhere.values("pk")))
    if flown and items_on(flown).exists():
        reckon_aircraft(flown)


def leave_to_beat(aircraft_ids: Sequence[int]) -> None:
    """A file that rewrites the past of a whole fleet: whoever looks next, or the beat, reckons those aircraft."""
    AircraftUse.objects.filter(pk__in=aircraft_ids).update(reckoned_minutes=None)
