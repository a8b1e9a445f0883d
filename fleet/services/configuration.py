"""What is fitted where. Fitting and removing is called by `scheduling.services.events`: a change is an event.

Whoever follows the counters is told once a call, however many components it moves.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from functools import partial

from django.db import transaction
from django.db.models import QuerySet

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Reason, wrong
from fleet.common.wording import moment
from fleet.models import Aircraft, Component, ComponentKind, Installation, Overhaul, Position
from fleet.selectors.aircraft import aircraft_by_id, component_for
from fleet.selectors.meters import component_times, counters_at, end_of
from fleet.services.following import CountersMoved, tell_followers
from fleet.services.meters import HIGHEST_READING
from fleet.services.trail import note

_wrong = partial(wrong, code="bad_configuration")


@dataclass(frozen=True, slots=True)
class NewComponent:
    """A component that is not on the register yet; opening totals are since new."""

    kind_code: str
    part_number: str
    serial_number: str
    manufactured_on: date | None = None
    opening_minutes: int = 0
    opening_landings: int = 0
    opening_cycles: int = 0
    release_document: str = ""


@dataclass(frozen=True, slots=True)
class Place:
    """A position of an aircraft at a moment, and why something changes there."""

    aircraft_id: int
    position_id: int
    at: datetime
    reason: str = ""


@transaction.atomic
def register_component(*, actor: Actor, new: NewComponent) -> Component:
    """Put a component on the register. Refuses an unknown kind and a serial number that is there already."""
    require(actor, Verb.REPORT_EVENT)
    kind = ComponentKind.objects.filter(operator_id=actor.operator_id, code=new.kind_code).first()
    if kind is None:
        raise _wrong(
            "kind_code", new.kind_code, "is no kind of component here", "choose one of the kinds listed"
        )
    _check_new(actor, new)
    component = Component.objects.create(
        operator_id=actor.operator_id,
        kind=kind,
        part_number=new.part_number.strip(),
        serial_number=new.serial_number.strip(),
        manufactured_on=new.manufactured_on,
        opening_minutes=new.opening_minutes,
        opening_landings=new.opening_landings,
        opening_cycles=new.opening_cycles,
        release_document=new.release_document,
    )
    note(actor, "register_component", "component", component.pk, f"{component} put on the register")
    return component


def _check_new(actor: Actor, new: NewComponent) -> None:
    """Named by its numbers, known by none of them yet, with times a meter could show."""
    if not new.serial_number.strip() or not new.part_number.strip():
        raise _wrong(
            "serial_number", new.serial_number, "part and serial number are needed", "read them off the part"
        )
    for name in ("opening_minutes", "opening_landings", "opening_cycles"):
        if not 0 <= getattr(new, name) <= HIGHEST_READING:
            raise _wrong(name, str(getattr(new, name)), "is out of range", "copy it from the part's papers")
    known = Component.objects.filter(
        operator_id=actor.operator_id,
        part_number=new.part_number.strip(),
        serial_number=new.serial_number.strip(),
    )
    if known.exists():
        raise Conflict(
            "component_known",
            f"Part {new.part_number} serial {new.serial_number} is on the register already.",
            Reason(
                "is on the register already", "serial_number", new.serial_number, "choose it from the store"
            ),
        )


@transaction.atomic
def fit_component(*, actor: Actor, place: Place, component_id: int) -> Installation:
    """Fit a component in an empty position. Refuses a taken position, a component that sits elsewhere, a wrong kind."""
    row = _fit(actor, place, component_id)
    _tell(place)
    return row


def _fit(actor: Actor, place: Place, component_id: int) -> Installation:
    require(actor, Verb.REPORT_EVENT)
    aircraft, position = _lock(actor, place)
    component_for(actor, component_id)
    component = Component.objects.select_for_update(of=("self",)).select_related("kind").get(pk=component_id)
    _check_fits(component, position, aircraft)
    taken = _fitted_in(place)
    if taken is not None:
        raise _wrong("position_code", position.code, f"holds {taken.component}", "report it removed first")
    elsewhere = Installation.objects.filter(component=component, removed_at=None).first()
    if elsewhere is not None:
        where = f"{elsewhere.aircraft} {elsewhere.position}"
        raise _wrong(
            "component_on_id", str(component), f"is fitted to {where}", "report it removed there first"
        )
    _check_free_since(component, position, place)
    counters = counters_at(aircraft.pk, place.at)
    row = Installation.objects.create(
        aircraft=aircraft,
        position=position,
        component=component,
        fitted_at=place.at,
        fitted_minutes=counters.minutes,
        fitted_landings=counters.landings,
        fitted_cycles=counters.cycles,
        fitted_by_id=actor.user_id,
    )
    note(actor, "fit_component", "aircraft", aircraft.registration, f"{component} fitted at {position}")
    return row


@transaction.atomic
def remove_component(*, actor: Actor, place: Place) -> Installation:
    """Take out what sits in a position. Refuses an empty position and a moment before it was fitted."""
    row = _remove(actor, place)
    _tell(place)
    return row


def _remove(actor: Actor, place: Place) -> Installation:
    require(actor, Verb.REPORT_EVENT)
    aircraft, position = _lock(actor, place)
    row = _fitted_in(place)
    if row is None:
        raise _wrong("position_code", position.code, "is empty", "choose the position it came out of")
    if place.at <= row.fitted_at:
        raise _wrong(
            "at",
            place.at.isoformat(),
            f"is not after it was fitted ({moment(row.fitted_at)})",
            "check the time",
        )
    counters = counters_at(aircraft.pk, place.at)
    row.removed_at = place.at
    row.removed_minutes = counters.minutes
    row.removed_landings = counters.landings
    row.removed_cycles = counters.cycles
    row.removal_reason = place.reason[:200]
    row.removed_by_id = actor.user_id
    row.save()
    note(
        actor,
        "remove_component",
        "aircraft",
        aircraft.registration,
        f"{row.component} removed from {position}",
    )
    return row


@transaction.atomic
def swap_component(*, actor: Actor, place: Place, component_on_id: int) -> tuple[Installation, Installation]:
    """One component comes off, another goes on, at the same moment."""
    rows = _remove(actor, place), _fit(actor, place, component_on_id)
    _tell(place)
    return rows


@transaction.atomic
def refit_component(*, actor: Actor, place: Place) -> tuple[Installation, Installation]:
    """The same component comes off and goes back: its times go on, its time since fitted starts again."""
    off = _remove(actor, place)
    on = _fit(actor, place, off.component_id)
    _tell(place)
    return off, on


def _tell(place: Place) -> None:
    """What the aircraft carries, and what left it, counts from here."""
    tell_followers([CountersMoved(place.at, place.aircraft_id)])


@transaction.atomic
def record_overhaul(*, actor: Actor, component_id: int, done_on: date, release_document: str) -> Overhaul:
    """The component comes back overhauled: time since overhaul starts again. Refuses a day in the future."""
    require(actor, Verb.EDIT_FLEET)
    component = component_for(actor, component_id)
    if done_on > now().date():
        raise _wrong(
            "done_on", done_on.isoformat(), "lies in the future", "enter the day on the release document"
        )
    if not release_document.strip():
        raise _wrong("release_document", "", "is missing", "enter the number of the release document")
    # No flight may move its counters between the sum and the row.
    list(Aircraft.objects.select_for_update().filter(pk__in=_carriers(component)).values("pk"))
    until = min(end_of(done_on), now())
    totals = component_times(component, until).since_new
    overhaul = Overhaul.objects.create(
        component=component,
        done_on=done_on,
        since_new_minutes=totals.minutes,
        since_new_landings=totals.landings,
        since_new_cycles=totals.cycles,
        release_document=release_document.strip(),
    )
    note(actor, "record_overhaul", "component", component.pk, f"{component} overhauled, {release_document}")
    tell_followers([CountersMoved(until, component_id=component.pk)])
    return overhaul


def _carriers(component: Component) -> QuerySet[Installation, int]:
    return component.installations.filter(removed_at=None).values_list("aircraft_id", flat=True)


def _lock(actor: Actor, place: Place) -> tuple[Aircraft, Position]:
    aircraft_by_id(actor, place.aircraft_id)
    aircraft = Aircraft.objects.select_for_update().get(pk=place.aircraft_id)
    if place.at > now():
        raise _wrong("at", place.at.isoformat(), "lies in the future", "enter when it was done")
    position = Position.objects.filter(
        pk=place.position_id, aircraft_type_id=aircraft.aircraft_type_id
    ).first()
    if position is None:
        raise _wrong(
            "position_code", str(place.position_id), "is no position of this type", "choose one of the list"
        )
    return aircraft, position


def _fitted_in(place: Place) -> Installation | None:
    return (
        Installation.objects.select_related("component__kind")
        .filter(aircraft_id=place.aircraft_id, position_id=place.position_id, removed_at=None)
        .first()
    )


def _check_fits(component: Component, position: Position, aircraft: Aircraft) -> None:
    if component.kind_id != position.kind_id:
        raise _wrong(
            "component_on_id",
            str(component),
            f"is no {position.kind.name.lower()}",
            "choose one of the right kind",
        )
    if component.scrapped_on is not None:
        raise _wrong("component_on_id", str(component), "is scrapped", "choose another")
    needed = position.needs_option
    if needed is not None and not aircraft.options.filter(pk=needed.pk).exists():
        raise _wrong(
            "position_code", position.code, f"needs {needed.name}, which is not fitted", "check the options"
        )


def _check_free_since(component: Component, position: Position, place: Place) -> None:
    later = Installation.objects.filter(removed_at__gt=place.at)
    if later.filter(component=component).exists():
        raise _wrong("at", place.at.isoformat(), f"{component} sat elsewhere after that", "check the time")
    if later.filter(aircraft_id=place.aircraft_id, position=position).exists():
        raise _wrong(
            "at", place.at.isoformat(), f"{position} held something else after that", "check the time"
        )
