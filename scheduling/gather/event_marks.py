"""Events into the marks that limits “since the event” run from, with the counters of that moment."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from django.db.models import F, OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Coalesce

from fleet.models import FlightEntry, Reading
from scheduling.due.terms import Mark
from scheduling.gather.subjects import (
    FLIGHT_DAYS,
    FLOWN,
    MEASURE_OF,
    AircraftFacts,
    ComponentFacts,
    component_counters,
    flight_days_until,
)
from scheduling.models import Event

BEFORE_ALL = datetime(1900, 1, 1, tzinfo=UTC)


@dataclass(frozen=True, slots=True)
class EventMark:
    """One event: where, to which component, and what the counters of the aircraft showed."""

    id: int
    aircraft_id: int
    kind_id: int
    at: datetime
    position_id: int | None
    component_ids: frozenset[int]
    mark: Mark


@dataclass(frozen=True, slots=True)
class EventMarks:
    """The newest events by kind and aircraft, and by kind and component or position."""

    of_aircraft: Mapping[tuple[int, int], EventMark]
    of_place: Mapping[tuple[int, int], tuple[EventMark, ...]]

    def of(
        self,
        kind_id: int | None,
        aircraft: AircraftFacts | None,
        component: ComponentFacts | None,
        fleet: Mapping[int, AircraftFacts],
    ) -> Mark | None:
        """The newest event of the kind that concerns the subject, in the subject's own counters."""
        if kind_id is None:
            return None
        if component is None:
            found = self.of_aircraft.get((kind_id, aircraft.id)) if aircraft else None
            return found.mark if found else None
        concerned = [
            event
            for stay in component.stays
            for event in self.of_place.get((kind_id, stay.aircraft_id), ())
            if component.id in event.component_ids
            or (
                not event.component_ids
                and event.position_id in (None, stay.position_id)
                and _during(event, stay)
            )
        ]
        if not concerned:
            return None
        event = max(concerned, key=lambda one: (one.at, one.id))
        counters = component_counters(component, fleet, event.at, event.mark.counters)
        return Mark(event.mark.day, counters, event.mark.record)


def _during(event: EventMark, stay: object) -> bool:
    fitted_at, removed_at = getattr(stay, "fitted_at", BEFORE_ALL), getattr(stay, "removed_at", None)
    return bool(fitted_at <= event.at and (removed_at is None or event.at < removed_at))


def event_marks(aircraft: Mapping[int, AircraftFacts], kind_ids: Iterable[int]) -> EventMarks:
    """The events of these kinds on these aircraft: one query."""
    newest: dict[tuple[int, int], EventMark] = {}
    places: dict[tuple[int, int], list[EventMark]] = {}
    rows = Event.objects.filter(aircraft_id__in=list(aircraft), kind_id__in=list(kind_ids))
    for row in with_counters(rows).select_related("kind").order_by("at", "pk"):
        here = aircraft[row.aircraft_id]
        day = row.at.astimezone(ZoneInfo(here.zone)).date()
        counters = {MEASURE_OF[kind]: getattr(row, f"shown_{kind}") for kind in FLOWN}
        counters[FLIGHT_DAYS] = flight_days_until(here, day)
        ids = frozenset(pk for pk in (row.component_on_id, row.component_off_id) if pk)
        mark = Mark(day, counters, f"event {row.pk}, {row.kind.name}")
        event = EventMark(row.pk, row.aircraft_id, row.kind_id, row.at, row.position_id, ids, mark)
        newest[row.kind_id, row.aircraft_id] = event
        places.setdefault((row.kind_id, row.aircraft_id), []).append(event)
    return EventMarks(newest, {key: tuple(several) for key, several in places.items()})


def with_counters(events: QuerySet[Event]) -> QuerySet[Event]:
    """Each event with `shown_minutes`, `shown_landings`, `shown_cycles`: the last reading before and the
    flights since."""
    for kind in FLOWN:
        last = Reading.objects.filter(
            meter__aircraft=OuterRef("aircraft"), meter__kind=kind, at__lte=OuterRef("at")
        ).order_by("-at", "-id")
        events = events.annotate(
            **{
                f"read_{kind}": Coalesce(Subquery(last.values("value")[:1]), Value(0)),
                f"read_{kind}_at": Coalesce(Subquery(last.values("at")[:1]), Value(BEFORE_ALL)),
            }
        )
        flown = (
            FlightEntry.objects.filter(
                aircraft=OuterRef("aircraft"),
                voided_at=None,
                off_at__lte=OuterRef("at"),
                off_at__gt=OuterRef(f"read_{kind}_at"),
            )
            .order_by()
            .values("aircraft")
            .annotate(total=Sum(kind))
            .values("total")
        )
        shown = F(f"read_{kind}") + Coalesce(Subquery(flown), Value(0))
        events = events.annotate(**{f"shown_{kind}": shown})
    return events
