"""Relief rows into running clocks: days in the operator's own zone, hours and flights from the deferral."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from fleet.common.clock import now as present
from fleet.models import FlightEntry
from fleet.selectors.meters import Counters, counters_now
from scheduling.due.relief import (
    IN_DAYS,
    ReliefCategory,
    ReliefClock,
    ReliefState,
    ReliefStatus,
    ReliefUnit,
    relief_by_counter,
    relief_state,
)
from scheduling.models import Relief
from scheduling.models import ReliefCategory as CategoryRow

COUNTER_OF = {ReliefUnit.HOURS: "minutes", ReliefUnit.CYCLES: "cycles"}


def category_of(row: CategoryRow) -> ReliefCategory:
    """A stored category as the clock reads it."""
    return ReliefCategory(row.code, row.days, ReliefUnit.DAYS, row.source, row.starts_at)


def granted_category(relief: Relief) -> ReliefCategory:
    """The category as granted: its amount, or what the remarks of the item stated."""
    row = relief.category
    return ReliefCategory(row.code, relief.amount, ReliefUnit(relief.unit), row.source, row.starts_at)


def relief_states(reliefs: Iterable[Relief], moment: datetime | None = None) -> dict[int, ReliefState]:
    """How each relief stands, by its key: two queries, one more where flights count."""
    rows = list(reliefs)
    at = moment or present()
    counters = counters_now({row.aircraft_id for row in rows})
    flights = _flights([row for row in rows if row.unit in (ReliefUnit.FLIGHT_DAYS, ReliefUnit.FLIGHTS)])
    return {row.pk: state_of(row, flights.get(row.pk, ()), counters[row.aircraft_id], at) for row in rows}


def used_up_now(reliefs: Iterable[Relief]) -> dict[int, datetime]:
    """Relief whose flights, hours or flight days are used up although its end is not written yet: it ends now."""
    counted = [row for row in reliefs if row.ends_at is None]
    moment = present()
    states = relief_states(counted, moment) if counted else {}
    return {
        pk: state.ends_at or moment for pk, state in states.items() if state.status is ReliefStatus.EXPIRED
    }


def state_of(
    relief: Relief, flights: tuple[datetime, ...], counters: Counters, moment: datetime
) -> ReliefState:
    """How one relief stands at a moment."""
    category = granted_category(relief)
    zone = ZoneInfo(relief.aircraft.operator.day_zone)
    if category.unit in IN_DAYS:
        return relief_state(ReliefClock(category, relief.recorded_at, zone, flights), moment)
    if category.unit is ReliefUnit.FLIGHTS:
        return relief_by_counter(category, 0, len(flights))
    shown = counters.as_dict()[COUNTER_OF[category.unit]]
    return relief_by_counter(category, relief.at_deferral or 0, max(shown, relief.at_deferral or 0))


def _flights(reliefs: list[Relief]) -> Mapping[int, tuple[datetime, ...]]:
    """When flights of each relief's aircraft started since it was recorded."""
    if not reliefs:
        return {}
    earliest = min(row.recorded_at for row in reliefs)
    started: dict[int, list[datetime]] = defaultdict(list)
    rows = FlightEntry.objects.filter(
        aircraft_id__in={row.aircraft_id for row in reliefs}, off_at__gt=earliest, voided_at=None
    )
    for aircraft_id, off_at in rows.order_by("off_at").values_list("aircraft_id", "off_at"):
        started[aircraft_id].append(off_at)
    return {
        row.pk: tuple(moment for moment in started[row.aircraft_id] if moment > row.recorded_at)
        for row in reliefs
    }
