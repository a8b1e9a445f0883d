"""A flight was posted: move what is due on its aircraft, writing only what changed.

This runs inside every posting of a flight, while it holds the write lock: it reads and writes bare columns, for
building model instances of a few hundred items takes several times longer than the database itself.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from datetime import datetime
from functools import lru_cache
from typing import Any

from django.db import connection

from fleet.common.clock import local_day, now
from scheduling.due.flown import NOTHING_LEFT, Ahead, Kept, moved
from scheduling.due.forecast_errors import ForecastErrors
from scheduling.due.levels import ALREADY
from scheduling.gather.due import due_items
from scheduling.gather.use import UNMEASURED, errors_from_data, plans_of, rate_from_data
from scheduling.models import Applicability
from scheduling.services.due_facts import keep_facts

SHOWN = "(SELECT value FROM fleet_meter WHERE aircraft_id = %s AND component_id IS NULL AND kind = '{kind}')"
# What it is reckoned with, remembered and read at once: every journey to the database counts.
USE = f"""
UPDATE scheduling_aircraftuse SET
  reckoned_minutes = {SHOWN.format(kind="minutes")},
  reckoned_landings = {SHOWN.format(kind="landings")},
  reckoned_cycles = {SHOWN.format(kind="cycles")}
WHERE aircraft_id = %s AND reckoned_minutes IS NOT NULL
RETURNING rate, reckoned_minutes, reckoned_landings, reckoned_cycles,
  (SELECT type.bands FROM fleet_aircraft AS flown JOIN scheduling_typeuse AS type
    ON type.aircraft_type_id = flown.aircraft_type_id WHERE flown.id = scheduling_aircraftuse.aircraft_id),
  (SELECT base.zone FROM fleet_aircraft AS flown JOIN fleet_base AS base
    ON base.id = flown.base_id WHERE flown.id = scheduling_aircraftuse.aircraft_id),
  EXISTS (SELECT 1 FROM scheduling_flyingplan AS plan WHERE plan.aircraft_id = scheduling_aircraftuse.aircraft_id),
  EXISTS (SELECT 1 FROM scheduling_event AS event
    WHERE event.aircraft_id = scheduling_aircraftuse.aircraft_id AND event.at >= %s)
"""  # noqa: S608 - words of ours
COUNTED = f"""
SELECT applicability_id, is_plain, due_day, due_minutes, due_landings, due_cycles,
  soon_minutes, soon_landings, soon_cycles, lawful_minutes, lawful_landings, lawful_cycles,
  soon_day, unknown_day, reached_day, overdue_day, projected_day, earliest_day, latest_day, order_day
FROM scheduling_duefact
WHERE aircraft_id = %s AND order_day < {NOTHING_LEFT}
  AND (NOT is_plain OR due_minutes IS NOT NULL OR due_landings IS NOT NULL OR due_cycles IS NOT NULL)
"""  # noqa: S608 - words of ours
STANDS = ("soon_day", "unknown_day", "reached_day", "overdue_day", "is_counter_overdue", "is_known")
DAYS = ("projected_day", "earliest_day", "latest_day", "order_day")
Change = tuple[Any, ...]


def after_flight(aircraft_id: int, off_at: datetime) -> bool:
    """Move every item on an aircraft that flew from a moment on, in the caller's transaction.

    Plain items follow from their own columns, the others are reckoned anew. False, and nothing done, where that is
    not all: an aircraft never reckoned, or an event since then, from which limits may count.
    """
    ahead = _ahead(aircraft_id, off_at)
    if ahead is None:
        return False
    rows = _asked(COUNTED, aircraft_id)
    stands, days = _changes((row for row in rows if row[1]), ahead)
    _write(STANDS, stands)
    _write(DAYS, days)
    others = [row[0] for row in rows if not row[1]]
    if others:
        keep_facts(due_items(Applicability.objects.filter(pk__in=others, is_active=True)), now())
    return True


def _asked(statement: str, *parameters: Any) -> list[tuple[Any, ...]]:
    with connection.cursor() as cursor:
        cursor.execute(statement, parameters)
        found: list[tuple[Any, ...]] = cursor.fetchall()
    return found


def _ahead(aircraft_id: int, off_at: datetime) -> Ahead | None:
    """The aircraft's counters, rate, errors and plan; None where more than these moved."""
    moment = connection.ops.adapt_datetimefield_value(off_at)
    for rate, *shown, bands, zone, is_planned, is_past in _asked(USE, *[aircraft_id] * 4, moment):
        if is_past or None in shown:
            return None
        minutes, landings, cycles = shown
        errors = _errors(bands) if bands else UNMEASURED.errors
        plan = plans_of([aircraft_id]).get(aircraft_id) if is_planned else None
        used = rate_from_data(json.loads(rate))
        return Ahead((minutes, landings, cycles), used, errors, local_day(zone), plan)
    return None


@lru_cache(maxsize=64)
def _errors(bands: str) -> ForecastErrors:
    """Forecast errors as stored; a type's are read anew once a day, when they are measured."""
    return errors_from_data(json.loads(bands))


def _changes(rows: Iterable[tuple[Any, ...]], ahead: Ahead) -> tuple[list[Change], list[Change]]:
    """What is no longer what it was: new standings, and new days, each with its row's key at the end."""
    stands: list[Change] = []
    days: list[Change] = []
    for row in rows:
        found = moved(Kept(row[2], row[3:6], row[6:9], row[9:12], row[12:16]), ahead)
        if found[:4] != row[12:16]:
            is_known = found.unknown != ALREADY or found.reached == ALREADY
            stands.append((*found[:4], found.overdue == ALREADY, is_known, row[0]))
        if found[4:] != row[16:]:
            days.append((*found[4:], row[0]))
    return stands, days


def _write(names: Sequence[str], changes: Sequence[Change]) -> None:
    """Put new values into many rows: one prepared statement, or one statement for all where each costs a journey."""
    if not changes:
        return
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(*_at_once(names, changes))
            return
        columns = ", ".join(f"{name} = %s" for name in names)
        cursor.executemany(
            f"UPDATE scheduling_duefact SET {columns} WHERE applicability_id = %s",  # noqa: S608 - names of ours
            changes,
        )


def _at_once(names: Sequence[str], changes: Sequence[Change]) -> tuple[str, list[str]]:
    """One statement that takes every column as an array, written as text: adapting each value takes longer."""
    *columns, keys = zip(*changes, strict=True)
    news = [f"new_{name}" for name in names]
    sets = ", ".join(f"{name} = {new}" for name, new in zip(names, news, strict=True))
    kinds = ["boolean" if name.startswith("is_") else "bigint" for name in names]
    arrays = ", ".join(f"%s::{kind}[]" for kind in (*kinds, "bigint"))
    statement = (
        f"UPDATE scheduling_duefact SET {sets} "  # noqa: S608 - names of ours
        f"FROM unnest({arrays}) AS fresh({', '.join(news)}, pk) WHERE applicability_id = fresh.pk"
    )
    return statement, [_array(column) for column in (*columns, keys)]


def _array(values: Iterable[int | bool | None]) -> str:
    return "{" + ",".join("NULL" if value is None else str(value) for value in values) + "}"
