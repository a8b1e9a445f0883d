"""A flight was posted: move what is due on its aircraft, writing only what changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import connection

from fleet.common.clock import local_day, now
from fleet.models import Aircraft
from fleet.selectors.meters import counters_now
from scheduling.due.flown import Ahead, Kept, Moved, moved
from scheduling.due.levels import ALREADY
from scheduling.gather.due import due_items
from scheduling.gather.use import use_facts
from scheduling.models import AircraftUse, Applicability, DueFact
from scheduling.services.due_facts import keep_facts, reckon_aircraft

READ = (
    "pk",
    "due_day",
    "due_minutes",
    "due_landings",
    "due_cycles",
    "soon_minutes",
    "soon_landings",
    "soon_cycles",
    "lawful_minutes",
    "lawful_landings",
    "lawful_cycles",
    "soon_day",
    "unknown_day",
    "reached_day",
    "overdue_day",
    "projected_day",
    "earliest_day",
    "latest_day",
    "order_day",
)
WRITTEN = (
    "soon_day",
    "unknown_day",
    "reached_day",
    "overdue_day",
    "projected_day",
    "earliest_day",
    "latest_day",
    "order_day",
)
UPDATE = (
    f"UPDATE {DueFact._meta.db_table} SET {', '.join(f'{name} = %s' for name in WRITTEN)}, "  # noqa: S608
    "is_counter_overdue = %s, is_known = %s WHERE applicability_id = %s"
)


def after_flight(aircraft_id: int) -> int:
    """Move every item on an aircraft whose counters rose, in the caller's transaction; how many rows changed.

    Plain items follow from their own columns; the others, and an aircraft never reckoned, are reckoned anew.
    """
    known = AircraftUse.objects.filter(pk=aircraft_id, reckoned_minutes__isnull=False)
    if not known.exists():
        return reckon_aircraft([aircraft_id])
    ahead = _ahead(aircraft_id)
    facts = DueFact.objects.filter(aircraft_id=aircraft_id, is_complete=False)
    changes = _changes(list(facts.filter(is_plain=True).values_list(*READ)), ahead)
    if changes:
        with connection.cursor() as cursor:
            cursor.executemany(UPDATE, changes)
    others = Applicability.objects.filter(pk__in=facts.filter(is_plain=False).values("pk"), is_active=True)
    items = due_items(others) if facts.filter(is_plain=False).exists() else []
    keep_facts(items, now())
    minutes, landings, cycles = ahead.shown
    known.update(reckoned_minutes=minutes, reckoned_landings=landings, reckoned_cycles=cycles)
    return len(changes) + len(items)


def _ahead(aircraft_id: int) -> Ahead:
    aircraft = Aircraft.objects.select_related("base").get(pk=aircraft_id)
    use = use_facts({aircraft_id: aircraft.aircraft_type_id})[aircraft_id]
    counters = counters_now([aircraft_id])[aircraft_id]
    shown = (counters.minutes, counters.landings, counters.cycles)
    return Ahead(shown, use.rate, use.errors, local_day(aircraft.base.zone), use.plan)


def _changes(rows: Sequence[tuple[Any, ...]], ahead: Ahead) -> list[tuple[Any, ...]]:
    """The parameters of one update for every row that is no longer what it was."""
    changes = []
    for row in rows:
        found = moved(Kept(row[1], row[2:5], row[5:8], row[8:11], *row[11:15]), ahead)
        if _columns(found) != row[11:19]:
            is_known = found.unknown != ALREADY or found.reached == ALREADY
            changes.append((*_columns(found), found.overdue == ALREADY, is_known, row[0]))
    return changes


def _columns(found: Moved) -> tuple[Any, ...]:
    return (
        found.soon,
        found.unknown,
        found.reached,
        found.overdue,
        found.projected,
        found.earliest,
        found.latest,
        found.order,
    )
