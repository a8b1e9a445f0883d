"""An aircraft as its page shows it: what is fitted with its times, open work, relief, what happened."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import Count, Max, QuerySet, Sum

from fleet.common.actor import Actor
from fleet.models import (
    Aircraft,
    Component,
    FlightDay,
    FlightEntry,
    Installation,
    Meter,
    Overhaul,
    Position,
)
from fleet.selectors.aircraft import aircraft_list, positions_of
from fleet.selectors.meters import Counters, counters_now
from records.models import SignedRecord
from scheduling.models import OPEN_STATES, Event, Relief, Task
from scheduling.selectors.due_item import DueRow, due_rows
from scheduling.selectors.due_list import filtered, page_of
from scheduling.selectors.due_query import DueQuery
from scheduling.selectors.status import status_of
from scheduling.status import OperatingStatus

ZONE_WORDS = {
    "wing": "Wing",
    "strut": "Struts",
    "tail": "Tail",
    "pod": "Belly pod",
    "propeller": "Propeller",
    "windshield": "Windshield",
    "": "Fluid system",
}


@dataclass(frozen=True, slots=True)
class Fitted:
    """One position with what sits there now and how long that has flown; nothing where it is empty."""

    position: Position
    component: Component | None = None
    fitted_on: date | None = None
    since_new: Counters | None = None
    since_overhaul: Counters | None = None
    since_fitted: Counters | None = None


@dataclass(frozen=True, slots=True)
class Zone:
    """The positions of one zone."""

    name: str
    rows: tuple[Fitted, ...]


def configuration(aircraft: Aircraft) -> list[Zone]:
    """Every position by zone with its component and times as of now, in a constant number of queries."""
    installed = {
        row.position_id: row
        for row in Installation.objects.filter(aircraft=aircraft, removed_at=None).select_related(
            "component__kind", "position"
        )
    }
    times = _times(aircraft, list(installed.values()))
    zones: dict[str, list[Fitted]] = {}
    for position in positions_of(aircraft):
        row = installed.get(position.pk)
        name = ZONE_WORDS.get(position.zone, position.zone.capitalize())
        fitted = replace(times[row.pk], position=position) if row else Fitted(position)
        zones.setdefault(name, []).append(fitted)
    return [Zone(name, tuple(rows)) for name, rows in zones.items()]


def _times(aircraft: Aircraft, installed: list[Installation]) -> dict[int, Fitted]:
    """Component times by installation: opening totals, what earlier places added, what was flown here since."""
    shown = counters_now([aircraft.pk])[aircraft.pk]
    ids = [row.component_id for row in installed]
    before = dict.fromkeys(ids, Counters())
    earlier = Installation.objects.filter(component_id__in=ids, removed_at__isnull=False)
    for past in earlier:
        before[past.component_id] += _removed(past) - _fitted(past)
    overhauls: dict[int, Overhaul] = {}
    for overhaul in Overhaul.objects.filter(component_id__in=ids).order_by("done_on", "pk"):
        overhauls[overhaul.component_id] = overhaul
    found = {}
    for row in installed:
        here = shown - _fitted(row)
        total = _opening(row.component) + before[row.component_id] + here
        last = overhauls.get(row.component_id)
        found[row.pk] = Fitted(
            position=row.position,
            component=row.component,
            fitted_on=row.fitted_at.date(),
            since_new=total,
            since_overhaul=total - _overhauled(last) if last else None,
            since_fitted=here,
        )
    return found


def _opening(component: Component) -> Counters:
    return Counters(component.opening_minutes, component.opening_landings, component.opening_cycles)


def _fitted(row: Installation) -> Counters:
    return Counters(row.fitted_minutes, row.fitted_landings, row.fitted_cycles)


def _removed(row: Installation) -> Counters:
    return Counters(row.removed_minutes or 0, row.removed_landings or 0, row.removed_cycles or 0)


def _overhauled(row: Overhaul) -> Counters:
    return Counters(row.since_new_minutes, row.since_new_landings, row.since_new_cycles)


def counters_as_of(aircraft_id: int) -> datetime | None:
    """When the counters were last moved."""
    found = Meter.objects.filter(aircraft_id=aircraft_id).aggregate(newest=Max("as_of"))
    newest: datetime | None = found["newest"]
    return newest


def due_next(actor: Actor, aircraft: Aircraft, most: int = 6) -> list[DueRow]:
    """What falls due next on one aircraft, most urgent first."""
    query = DueQuery(aircraft=aircraft.registration, limit=most)
    return due_rows(actor, page_of(filtered(actor, query), query).ids)


def open_tasks_on(aircraft: Aircraft) -> list[Task]:
    """Open tasks of one aircraft in the order of their work, each with its causes and what it waits for."""
    rows = (
        Task.objects.filter(aircraft=aircraft, state__in=OPEN_STATES)
        .select_related("assigned_to", "procedure")
        .prefetch_related("causes", "waits__first")
    )
    return list(rows.order_by("raised_at", "order", "id"))


def running_reliefs(aircraft: Aircraft) -> list[Relief]:
    """Relief not closed on one aircraft."""
    rows = Relief.objects.filter(aircraft=aircraft, closed_at=None).select_related("category", "granted_by")
    return list(rows)


def events_of(aircraft: Aircraft) -> QuerySet[Event]:
    """What happened to one aircraft, newest first."""
    return (
        Event.objects.filter(aircraft=aircraft)
        .select_related("kind", "position", "component_off__kind", "component_on__kind")
        .prefetch_related("causes__task")
        .order_by("-at", "-id")
    )


def records_of(aircraft: Aircraft) -> QuerySet[SignedRecord]:
    """Sealed records of one aircraft, newest first."""
    return SignedRecord.objects.filter(aircraft=aircraft).order_by("-sequence")


@dataclass(frozen=True, slots=True)
class Flown:
    """Flights of one aircraft over a stretch, added up."""

    minutes: int
    landings: int
    flights: int


def flown_since(aircraft: Aircraft, since: date) -> Flown:
    """What one aircraft flew from a day on, that day included."""
    found = FlightDay.objects.filter(aircraft=aircraft, day__gte=since).aggregate(
        minutes=Sum("minutes"), landings=Sum("landings"), flights=Sum("flights")
    )
    return Flown(found["minutes"] or 0, found["landings"] or 0, found["flights"] or 0)


def last_flights(aircraft: Aircraft, most: int = 12) -> list[FlightEntry]:
    """The newest flights of one aircraft, voided ones too."""
    return list(FlightEntry.objects.filter(aircraft=aircraft).order_by("-off_at", "-id")[:most])


@dataclass(frozen=True, slots=True)
class RegisterRow:
    """One aircraft of the register with its status, counters and how much is open."""

    aircraft: Aircraft
    status: OperatingStatus
    counters: Counters
    open_tasks: int


def register(actor: Actor, *, withdrawn: bool = False) -> list[RegisterRow]:
    """The operator's aircraft with their status, in a constant number of queries."""
    rows = list(aircraft_list(actor, withdrawn=withdrawn).prefetch_related("options"))
    ids = [row.pk for row in rows]
    states, counters, counted = status_of(ids), counters_now(ids), _open_counts(ids)
    return [RegisterRow(row, states[row.pk], counters[row.pk], counted.get(row.pk, 0)) for row in rows]


def _open_counts(aircraft_ids: Iterable[int]) -> dict[int, int]:
    rows = Task.objects.filter(aircraft_id__in=list(aircraft_ids), state__in=OPEN_STATES)
    return dict(rows.order_by().values_list("aircraft_id").annotate(number=Count("pk")))
