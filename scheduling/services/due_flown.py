"""A flight was posted: move what is due on its aircraft, writing only what changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import connection
from django.db.models import Q

from fleet.common.clock import local_day, now
from fleet.selectors.meters import counters_now
from scheduling.due.flown import Ahead, Kept, Moved, moved
from scheduling.due.levels import ALREADY
from scheduling.gather.due import due_items
from scheduling.gather.use import UNMEASURED, errors_from_data, plans_of, rate_from_data
from scheduling.models import AircraftUse, Applicability, DueFact, TypeUse
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
COUNTED = (
    Q(is_plain=False)
    | Q(due_minutes__isnull=False)
    | Q(due_landings__isnull=False)
    | Q(due_cycles__isnull=False)
)
UPDATE = (
    f"UPDATE {DueFact._meta.db_table} SET {', '.join(f'{name} = %s' for name in WRITTEN)}, "  # noqa: S608
    "is_counter_overdue = %s, is_known = %s WHERE applicability_id = %s"
)


def after_flight(aircraft_id: int) -> int:
    """Move every item on an aircraft whose counters rose, in the caller's transaction; how many rows changed.

    Plain items follow from their own columns; the others, and an aircraft never reckoned, are reckoned anew.
    """
    related = ("aircraft__base", "aircraft__aircraft_type__measured_use")
    known = AircraftUse.objects.filter(pk=aircraft_id, reckoned_minutes__isnull=False)
    use = known.select_related(*related).first()
    if use is None:
        return reckon_aircraft([aircraft_id])
    ahead = _ahead(use)
    facts = DueFact.objects.filter(COUNTED, aircraft_id=aircraft_id, is_complete=False)
    rows = list(facts.values_list(*READ, "is_plain"))
    changes = _changes([row for row in rows if row[-1]], ahead)
    if changes:
        with connection.cursor() as cursor:
            cursor.executemany(UPDATE, changes)
    others = [row[0] for row in rows if not row[-1]]
    if others:
        keep_facts(due_items(Applicability.objects.filter(pk__in=others, is_active=True)), now())
    minutes, landings, cycles = ahead.shown
    known.update(reckoned_minutes=minutes, reckoned_landings=landings, reckoned_cycles=cycles)
    return len(changes) + len(others)


def _ahead(use: AircraftUse) -> Ahead:
    """The aircraft's counters, rate, errors and plan: two queries."""
    aircraft = use.aircraft
    measured: TypeUse | None = getattr(aircraft.aircraft_type, "measured_use", None)
    errors = errors_from_data(measured.bands) if measured else UNMEASURED.errors
    counters = counters_now([aircraft.pk])[aircraft.pk]
    shown = (counters.minutes, counters.landings, counters.cycles)
    plan = plans_of([aircraft.pk]).get(aircraft.pk)
    return Ahead(shown, rate_from_data(use.rate), errors, local_day(aircraft.base.zone), plan)


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
