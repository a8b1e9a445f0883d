"""Counters: what an aircraft or a component has accumulated, now or at any moment."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q, QuerySet, Sum

from fleet.models import Component, FlightDay, FlightEntry, Installation, Meter, Overhaul, Reading

KINDS = ("minutes", "landings", "cycles")


@dataclass(frozen=True, slots=True)
class Counters:
    """Flight time in whole minutes, landings, engine cycles."""

    minutes: int = 0
    landings: int = 0
    cycles: int = 0

    def __add__(self, other: Counters) -> Counters:
        return Counters(
            self.minutes + other.minutes, self.landings + other.landings, self.cycles + other.cycles
        )

    def __sub__(self, other: Counters) -> Counters:
        return Counters(
            self.minutes - other.minutes, self.landings - other.landings, self.cycles - other.cycles
        )

    def as_dict(self) -> dict[str, int]:
        """By meter kind."""
        return {"minutes": self.minutes, "landings": self.landings, "cycles": self.cycles}


@dataclass(frozen=True, slots=True)
class ComponentTimes:
    """A component's totals; `since_fitted` is None while it is in store, `since_overhaul` before the first one."""

    since_new: Counters
    since_overhaul: Counters | None
    since_fitted: Counters | None
    fitted_on: date | None = None
    overhauled_on: date | None = None
    manufactured_on: date | None = None


def counters_now(aircraft_ids: Iterable[int]) -> dict[int, Counters]:
    """The cached newest counters of several aircraft: `{7: Counters(78270, 1402, 1402)}`."""
    found: dict[int, dict[str, int]] = {pk: {} for pk in aircraft_ids}
    rows = Meter.objects.filter(aircraft_id__in=list(found), kind__in=KINDS)
    for aircraft_id, kind, value in rows.values_list("aircraft_id", "kind", "value"):
        if aircraft_id is not None:
            found[aircraft_id][kind] = value
    return {pk: Counters(**values) for pk, values in found.items()}


def counters_at(aircraft_id: int, at: datetime) -> Counters:
    """The counters at a moment: the last reading at or before it, and the flights since."""
    return Counters(**{kind: _value_at(aircraft_id, kind, at) for kind in KINDS})


def _value_at(aircraft_id: int, kind: str, at: datetime) -> int:
    last = (
        Reading.objects.filter(meter__aircraft_id=aircraft_id, meter__kind=kind, at__lte=at)
        .order_by("-at", "-id")
        .first()
    )
    flown = FlightEntry.objects.filter(aircraft_id=aircraft_id, off_at__lte=at, voided_at=None)
    if last is not None:
        flown = flown.filter(off_at__gt=last.at)
    total: int = flown.aggregate(total=Sum(kind))["total"] or 0
    return (last.value if last else 0) + total


def component_times(component: Component, at: datetime) -> ComponentTimes:
    """The component's totals at a moment, summed over every aircraft it was fitted to."""
    rows = list(
        Installation.objects.filter(component=component, fitted_at__lte=at)
        .select_related("aircraft__base")
        .order_by("fitted_at")
    )
    flown = [_flown(row, at) for row in rows]
    since_new = sum(
        flown, Counters(component.opening_minutes, component.opening_landings, component.opening_cycles)
    )
    fitted = rows[-1] if rows and (rows[-1].removed_at is None or rows[-1].removed_at > at) else None
    overhaul = (
        Overhaul.objects.filter(component=component, done_on__lte=at.date())
        .order_by("-done_on", "-id")
        .first()
    )
    return ComponentTimes(
        since_new=since_new,
        since_overhaul=since_new - _at_overhaul(overhaul) if overhaul else None,
        since_fitted=flown[-1] if fitted else None,
        fitted_on=fitted.fitted_at.date() if fitted else None,
        overhauled_on=overhaul.done_on if overhaul else None,
        manufactured_on=component.manufactured_on,
    )


def _flown(row: Installation, at: datetime) -> Counters:
    begin = Counters(row.fitted_minutes, row.fitted_landings, row.fitted_cycles)
    if row.removed_at is not None and row.removed_at <= at:
        return Counters(row.removed_minutes or 0, row.removed_landings or 0, row.removed_cycles or 0) - begin
    return counters_at(row.aircraft_id, at) - begin


def _at_overhaul(overhaul: Overhaul) -> Counters:
    return Counters(overhaul.since_new_minutes, overhaul.since_new_landings, overhaul.since_new_cycles)


def flight_days(aircraft_ids: Iterable[int], since: date, until: date) -> QuerySet[FlightDay]:
    """Daily sums of several aircraft over a stretch, both ends included."""
    return FlightDay.objects.filter(aircraft_id__in=list(aircraft_ids), day__range=(since, until))


def flown_between(aircraft_id: int, after: datetime, until: datetime | None = None) -> bool:
    """Whether the aircraft flew after a moment (and at or before another)."""
    stretch = Q(off_at__gt=after) & (Q(off_at__lte=until) if until else Q())
    return FlightEntry.objects.filter(stretch, aircraft_id=aircraft_id, voided_at=None).exists()
