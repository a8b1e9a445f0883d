"""Rows into the counters and marks of what limits are about: aircraft and components, many at once."""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from fleet.models import Aircraft, Component, FlightDay, Installation, Meter, Overhaul
from scheduling.due.terms import Mark, Measure, MonthDay, Season, Since

MEASURE_OF = {
    "minutes": Measure.HOURS.value,
    "landings": Measure.LANDINGS.value,
    "cycles": Measure.CYCLES.value,
    "uses": Measure.USES.value,
    "use_minutes": Measure.USE_MINUTES.value,
}
FLOWN = ("minutes", "landings", "cycles")
FLIGHT_DAYS = Measure.FLIGHT_DAYS.value

Counted = Mapping[str, int]


@dataclass(frozen=True, slots=True)
class AircraftFacts:
    """One aircraft as limits see it; counters carry the measures' names, hours in minutes."""

    id: int
    registration: str
    operator_id: int
    type_id: int
    base_id: int
    zone: str
    today: date
    season: Season | None
    now: Mark
    new: Mark
    flown_days: tuple[date, ...] = ()


@dataclass(frozen=True, slots=True)
class Stay:
    """A component sat on an aircraft from one moment to another; what it gained there, by measure."""

    aircraft_id: int
    position_id: int
    fitted_at: datetime
    removed_at: datetime | None
    fitted: Counted
    removed: Counted | None
    position_code: str = ""
    position_name: str = ""


@dataclass(frozen=True, slots=True)
class ComponentFacts:
    """One component as limits see it: its own counters since new, which follow it from aircraft to aircraft."""

    id: int
    label: str
    operator_id: int
    zone: str
    opening: Counted
    stays: tuple[Stay, ...]
    now: Mark = field(default_factory=Mark)
    marks: Mapping[Since, Mark] = field(default_factory=dict)

    @property
    def stay(self) -> Stay | None:
        """Where it is fitted now, if anywhere."""
        return self.stays[-1] if self.stays and self.stays[-1].removed_at is None else None


def season_of(row: Mapping[str, Any]) -> Season | None:
    """The icing season of a base from its four columns, None where it has none."""
    begins = _month_day(row["base__season_start_month"], row["base__season_start_day"])
    return (
        Season(begins, _month_day(row["base__season_end_month"], row["base__season_end_day"]))
        if begins
        else None
    )


def _month_day(month: int | None, day: int | None) -> MonthDay | None:
    return MonthDay(month, day or 1) if month else None


AIRCRAFT_COLUMNS = (
    "pk",
    "registration",
    "operator_id",
    "aircraft_type_id",
    "base_id",
    "manufactured_on",
    "base__zone",
    "base__season_start_month",
    "base__season_start_day",
    "base__season_end_month",
    "base__season_end_day",
)


def aircraft_facts(
    aircraft_ids: Iterable[int], moment: datetime, *, flight_days: bool = False
) -> dict[int, AircraftFacts]:
    """Several aircraft at the present counters: two queries, three where flight days are asked for."""
    ids = list(aircraft_ids)
    counters: dict[int, dict[str, int]] = defaultdict(lambda: {MEASURE_OF[kind]: 0 for kind in FLOWN})
    meters = Meter.objects.filter(aircraft_id__in=ids).values_list("aircraft_id", "kind", "value")
    for aircraft_id, kind, value in meters:
        counters[aircraft_id or 0][MEASURE_OF[kind]] = value
    days = _flown_days(ids) if flight_days else {}
    rows = Aircraft.objects.filter(pk__in=ids).values(*AIRCRAFT_COLUMNS)
    return {row["pk"]: _aircraft(row, counters[row["pk"]], days.get(row["pk"], ()), moment) for row in rows}


def _aircraft(
    row: Mapping[str, Any], counters: dict[str, int], days: tuple[date, ...], moment: datetime
) -> AircraftFacts:
    today = moment.astimezone(ZoneInfo(row["base__zone"])).date()
    now = {**counters, FLIGHT_DAYS: len(days)}
    return AircraftFacts(
        id=row["pk"],
        registration=row["registration"],
        operator_id=row["operator_id"],
        type_id=row["aircraft_type_id"],
        base_id=row["base_id"],
        zone=row["base__zone"],
        today=today,
        season=season_of(row),
        now=Mark(today, now),
        new=Mark(row["manufactured_on"], dict.fromkeys(now, 0)),
        flown_days=days,
    )


def _flown_days(aircraft_ids: list[int]) -> dict[int, tuple[date, ...]]:
    found: dict[int, list[date]] = defaultdict(list)
    rows = FlightDay.objects.filter(aircraft_id__in=aircraft_ids, flights__gt=0).order_by("day")
    for aircraft_id, day in rows.values_list("aircraft_id", "day"):
        found[aircraft_id].append(day)
    return {aircraft_id: tuple(days) for aircraft_id, days in found.items()}


def flight_days_until(aircraft: AircraftFacts, day: date) -> int:
    """On how many days the aircraft had flown up to and with a day."""
    return bisect_right(aircraft.flown_days, day)


def stays_of(component_ids: Iterable[int]) -> dict[int, tuple[Stay, ...]]:
    """Where components sat, oldest first: one query."""
    found: dict[int, list[Stay]] = defaultdict(list)
    rows = Installation.objects.filter(component_id__in=list(component_ids)).select_related("position")
    for row in rows.order_by("fitted_at", "id"):
        off = None
        if row.removed_at is not None:
            off = _flown(row.removed_minutes or 0, row.removed_landings or 0, row.removed_cycles or 0)
        on = _flown(row.fitted_minutes, row.fitted_landings, row.fitted_cycles)
        stay = Stay(
            row.aircraft_id,
            row.position_id,
            row.fitted_at,
            row.removed_at,
            on,
            off,
            row.position.code,
            row.position.name,
        )
        found[row.component_id].append(stay)
    return {component_id: tuple(stays) for component_id, stays in found.items()}


def _flown(minutes: int, landings: int, cycles: int) -> dict[str, int]:
    return {MEASURE_OF["minutes"]: minutes, MEASURE_OF["landings"]: landings, MEASURE_OF["cycles"]: cycles}


def component_facts(
    stays: Mapping[int, tuple[Stay, ...]],
    component_ids: Iterable[int],
    aircraft: Mapping[int, AircraftFacts],
    moment: datetime,
) -> dict[int, ComponentFacts]:
    """Several components with their own counters and marks: three queries."""
    ids = list(component_ids)
    own: dict[int, dict[str, int]] = defaultdict(dict)
    meters = Meter.objects.filter(component_id__in=ids).values_list("component_id", "kind", "value")
    for component_id, kind, value in meters:
        own[component_id or 0][MEASURE_OF[kind]] = value
    overhauls = {row.component_id: row for row in Overhaul.objects.filter(component_id__in=ids)}
    rows = Component.objects.filter(pk__in=ids).select_related("kind", "operator")
    found = {}
    for row in rows:
        opening = _flown(row.opening_minutes, row.opening_landings, row.opening_cycles)
        zone = row.operator.day_zone
        bare = ComponentFacts(row.pk, str(row), row.operator_id, zone, opening, stays.get(row.pk, ()))
        found[row.pk] = _with_marks(bare, row, own[row.pk], overhauls.get(row.pk), aircraft, moment)
    return found


def _with_marks(
    bare: ComponentFacts,
    row: Component,
    own: Counted,
    overhaul: Overhaul | None,
    aircraft: Mapping[int, AircraftFacts],
    moment: datetime,
) -> ComponentFacts:
    counters = {**own, **component_counters(bare, aircraft, moment)}
    here = aircraft[bare.stay.aircraft_id] if bare.stay else None
    today = here.today if here else moment.astimezone(ZoneInfo(bare.zone)).date()
    marks = {Since.NEW: Mark(row.manufactured_on, dict.fromkeys(counters, 0))}
    if bare.stay and here:
        fitted = component_counters(bare, aircraft, bare.stay.fitted_at)
        day = bare.stay.fitted_at.astimezone(ZoneInfo(here.zone)).date()
        marks[Since.FITTED] = Mark(day, {**dict.fromkeys(own, 0), **fitted})
    if overhaul is not None:
        then = _flown(overhaul.since_new_minutes, overhaul.since_new_landings, overhaul.since_new_cycles)
        marks[Since.OVERHAUL] = Mark(overhaul.done_on, then, overhaul.release_document)
    return replace(bare, now=Mark(today, counters), marks=marks)


def component_counters(
    component: ComponentFacts,
    aircraft: Mapping[int, AircraftFacts],
    at: datetime,
    there: Counted | None = None,
) -> dict[str, int]:
    """The component's own counters at a moment; `there`: what its aircraft showed then, if not the present.

    Opening 100:00 h, 50:00 h flown elsewhere, fitted at 1000:00 where it is 1030:00 now: 180:00 h.
    """
    total = {**component.opening, FLIGHT_DAYS: 0}
    for stay in component.stays:
        if stay.fitted_at > at:
            break
        is_over = stay.removed_at is not None and stay.removed_at <= at
        here = aircraft.get(stay.aircraft_id)
        shown = there if there is not None and not is_over else here.now.counters if here else stay.fitted
        end = stay.removed if is_over and stay.removed is not None else shown
        if stay.fitted_at == at:
            end = stay.fitted
        for name, begin in stay.fitted.items():
            total[name] = total.get(name, 0) + end.get(name, begin) - begin
        if here is not None and here.flown_days:
            until = stay.removed_at if is_over and stay.removed_at else at
            total[FLIGHT_DAYS] += _days_between(here, stay.fitted_at, until)
    return total


def _days_between(aircraft: AircraftFacts, start: datetime, end: datetime) -> int:
    zone = ZoneInfo(aircraft.zone)
    first, last = start.astimezone(zone).date(), end.astimezone(zone).date()
    return flight_days_until(aircraft, last) - flight_days_until(aircraft, first)
