"""A flight was posted: move what is due on its aircraft, in its own transaction."""

from __future__ import annotations

import json
from datetime import datetime
from functools import lru_cache

from django.db import connection

from fleet.common.clock import local_day
from scheduling.due.arrays import Ahead
from scheduling.due.forecast_errors import ForecastErrors
from scheduling.gather.use import UNMEASURED, errors_from_data, plans_of, rate_from_data
from scheduling.services.due_columns import move_items

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


def after_flight(aircraft_id: int, off_at: datetime) -> bool:
    """Move every item on an aircraft that flew from a moment on, in the caller's transaction.

    False, and nothing done, where that is not all: an aircraft never reckoned, or an event since then, from which
    limits may count.
    """
    ahead = _ahead(aircraft_id, off_at)
    if ahead is None:
        return False
    move_items({aircraft_id: ahead})
    return True


def _ahead(aircraft_id: int, off_at: datetime) -> Ahead | None:
    """The aircraft's counters, rate, errors and plan; None where more than these moved."""
    moment = connection.ops.adapt_datetimefield_value(off_at)
    with connection.cursor() as cursor:
        cursor.execute(USE, [*[aircraft_id] * 4, moment])
        found = cursor.fetchall()
    for rate, *shown, bands, zone, is_planned, is_past in found:
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
