"""The totals a flight file moves: days, meters and copied counters, in as many statements however many rows."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime

from django.db import connection
from django.db.models import Max, Q
from django.db.models.functions import Coalesce, Greatest

from fleet.flight_file.rows import FlightRow
from fleet.models import ImportBatch, Installation, Meter, Overhaul, Reading
from fleet.selectors.meters import KINDS
from fleet.services.counting import in_step
from fleet.services.following import CountersMoved, tell_followers

NEVER = datetime.min.replace(tzinfo=UTC)
ADD_TO_DAYS = """
INSERT INTO fleet_flightday (aircraft_id, day, minutes, landings, cycles, flights)
SELECT aircraft_id, day, SUM(minutes), SUM(landings), SUM(cycles), COUNT(*)
FROM fleet_flightentry WHERE batch_id = %s GROUP BY aircraft_id, day
ON CONFLICT (aircraft_id, day) DO UPDATE SET
minutes = fleet_flightday.minutes + excluded.minutes,
landings = fleet_flightday.landings + excluded.landings,
cycles = fleet_flightday.cycles + excluded.cycles,
flights = fleet_flightday.flights + excluded.flights
"""
# One statement for many meters; a meter that is ahead keeps its moment.
MOVE_METER = """
UPDATE fleet_meter SET value = value + %s, as_of = CASE WHEN as_of > %s THEN as_of ELSE %s END
WHERE aircraft_id = %s AND component_id IS NULL AND kind = %s
"""


class Totals:
    """What a file adds to each aircraft's meters, gathered row by row.

    A meter that was read at or after a flight shows that flight already. The sums are made here and not by the
    database: fresh rows have no statistics yet, and its plans for such a join can be hours wrong.
    """

    def __init__(self, operator_id: int) -> None:
        self.first_off: dict[int, datetime] = {}
        self.last_off: dict[int, datetime] = {}
        self.moved: dict[int, list[int]] = {}
        self.read_at: dict[int, list[datetime]] = {}
        readings = Reading.objects.filter(meter__aircraft__operator_id=operator_id, meter__kind__in=KINDS)
        newest = readings.values_list("meter__aircraft_id", "meter__kind").annotate(newest=Max("at"))
        for aircraft_id, kind, at in newest.order_by():
            self.read_at.setdefault(aircraft_id, [NEVER] * len(KINDS))[KINDS.index(kind)] = at

    def add(self, aircraft_id: int, row: FlightRow) -> None:
        """One more flight of this aircraft."""
        off_at = row.off_at
        moved = self.moved.setdefault(aircraft_id, [0, 0, 0])
        self.first_off[aircraft_id] = min(self.first_off.get(aircraft_id, off_at), off_at)
        self.last_off[aircraft_id] = max(self.last_off.get(aircraft_id, off_at), off_at)
        read_at = self.read_at.get(aircraft_id)
        for place, amount in enumerate((row.minutes, row.landings, row.cycles)):
            if read_at is None or off_at > read_at[place]:
                moved[place] += amount

    def write(self, batch: ImportBatch) -> None:
        """Move the days, the meters, the counters copied into later installations, and whoever follows them."""
        known = set(Meter.objects.filter(component=None).values_list("aircraft_id", "kind"))
        Meter.objects.bulk_create(
            Meter(aircraft_id=pk, kind=kind) for pk in self.moved for kind in KINDS if (pk, kind) not in known
        )
        adapt = connection.ops.adapt_datetimefield_value
        rows = []
        for pk, amounts in self.moved.items():
            last = adapt(self.last_off[pk])
            rows += [(amount, last, last, pk, kind) for kind, amount in zip(KINDS, amounts, strict=True)]
        with connection.cursor() as cursor:
            cursor.execute(ADD_TO_DAYS, [batch.pk])
            cursor.executemany(MOVE_METER, rows)
        past = _with_later_work(self.first_off)
        for aircraft_id in sorted(past):
            with in_step(aircraft_id, self.first_off[aircraft_id], without=Q(batch=batch)):
                pass  # the flights are in the table already: "before" leaves them out
        tell_followers(
            [CountersMoved(off_at, pk, is_plain=pk not in past) for pk, off_at in self.first_off.items()]
        )


def _with_later_work(first_off: Mapping[int, datetime]) -> set[int]:
    """Aircraft on which something was fitted, removed or overhauled after the batch's earliest flight."""
    ends = Greatest(Max("fitted_at"), Coalesce(Max("removed_at"), Max("fitted_at")))
    fitted = Installation.objects.values_list("aircraft_id").annotate(last=ends)
    found = {pk for pk, last in fitted if pk in first_off and last >= first_off[pk]}
    overhauls = Overhaul.objects.values_list("component__installations__aircraft_id", "done_on")
    found |= {pk for pk, day in overhauls if pk in first_off and day >= first_off[pk].date()}
    return found
