"""Reporting an event: one transaction keeps the event, moves the configuration and raises the work it demands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from functools import partial
from typing import Any

from django.core.files.base import File
from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason, wrong
from fleet.models import Aircraft, Component, Position
from fleet.selectors.aircraft import aircraft_by_id, position_for
from fleet.services.configuration import (
    NewComponent,
    Place,
    fit_component,
    refit_component,
    register_component,
    remove_component,
    swap_component,
)
from fleet.services.trail import note
from scheduling.models import Event, EventKind, Task
from scheduling.selectors.events import outcome_of
from scheduling.services.after_event import follow_event
from scheduling.services.demands import raise_work
from scheduling.services.event_photos import checked_photo

_wrong = partial(wrong, code="bad_event")

LONGEST_KEY = 100
LONGEST_REASON = 200
CLOCK_TOLERANCE = timedelta(minutes=1)
FITS = (EventKind.Change.REPLACE, EventKind.Change.FIT)
# Refusals of the configuration name its fields; here they have the names the report gave them.
FIELDS = {"position_code": "position", "component_on_id": "component_on"}


@dataclass(frozen=True, slots=True)
class EventReport:
    """What somebody reports. `key` makes sending it twice harmless.

    `by_hand` refuses kinds that only the product itself reports, such as a failed test. A new component
    without a kind is of the kind its position holds.
    """

    aircraft_id: int
    kind_code: str
    at: datetime
    key: str
    position_code: str = ""
    component_on_id: int | None = None
    new_component: NewComponent | None = None
    note: str = ""
    detail: Mapping[str, Any] = field(default_factory=dict)
    photo: File[bytes] | None = None
    by_hand: bool = False


@dataclass(frozen=True, slots=True)
class Reported:
    """What came of it: new tasks, tasks that got a further cause, words for the reader."""

    event: Event
    raised: tuple[Task, ...]
    joined: tuple[Task, ...]
    notes: tuple[str, ...] = ()
    repeated: bool = False


@transaction.atomic
def report_event(*, actor: Actor, report: EventReport) -> Reported:
    """Keep the event, change the configuration, raise what the rules demand: all of it or nothing.

    Refuses an unknown kind, a missing position or component, a moment in the future, an aircraft withdrawn.
    The same key again answers what it answered before.
    """
    require(actor, Verb.REPORT_EVENT)
    aircraft = _lock(actor, report)
    known = Event.objects.filter(aircraft=aircraft, key=report.key).select_related("kind").first()
    if known is not None:
        return _again(known, report)
    kind = _kind(actor, report)
    position = _position(aircraft, kind, report)
    photo = checked_photo(report.photo)
    component_off, component_on = _change(actor, kind, position, report)
    event = Event.objects.create(
        aircraft=aircraft,
        kind=kind,
        at=report.at,
        position=position,
        component_off=component_off,
        component_on=component_on,
        note=report.note.strip(),
        detail=dict(report.detail),
        photo=photo or "",
        key=report.key,
        reported_by_id=actor.user_id,
        reported_by_name=actor.name,
        reported_at=now(),
    )
    raised, joined, notes = raise_work(actor, event)
    follow_event(event)
    words = f"{kind.name}{f' at {position}' if position else ''} reported on {aircraft}"
    detail = {"raised": [t.pk for t in raised], "joined": [t.pk for t in joined], "notes": list(notes)}
    note(actor, "report_event", "event", event.pk, words, detail)
    return Reported(event, raised, joined, notes)


def _lock(actor: Actor, report: EventReport) -> Aircraft:
    """The aircraft, locked: its events are taken one after the other."""
    aircraft_by_id(actor, report.aircraft_id)
    aircraft = (
        Aircraft.objects.select_for_update(of=("self",))
        .select_related("base", "aircraft_type")
        .get(pk=report.aircraft_id)
    )
    if not report.key.strip() or len(report.key) > LONGEST_KEY:
        remedy = f"send a key of your own, at most {LONGEST_KEY} characters, that makes repeating harmless"
        raise _wrong("key", report.key[:20], "is missing or too long", remedy)
    return aircraft


def _again(known: Event, report: EventReport) -> Reported:
    position_code = known.position.code if known.position else ""
    same = (known.kind.code, known.at, position_code) == (report.kind_code, report.at, report.position_code)
    if not same:
        raise Conflict(
            "key_reused",
            "This key was used for another event of this aircraft.",
            Reason("was used for another event", "key", report.key, "send a fresh key"),
        )
    outcome = outcome_of(known)
    return Reported(known, outcome.raised, outcome.joined, outcome.notes, repeated=True)


def _kind(actor: Actor, report: EventReport) -> EventKind:
    kind = EventKind.objects.filter(
        operator_id=actor.operator_id, code=report.kind_code, retired_on=None
    ).first()
    if kind is None:
        raise _wrong("kind", report.kind_code, "is no kind of event here", "choose one of the kinds listed")
    if report.by_hand and not kind.is_reported_by_people:
        detail = "is not reported by hand: it follows from a signed test"
        raise _wrong("kind", report.kind_code, detail, "choose another kind of event")
    if report.at > now() + CLOCK_TOLERANCE:
        raise _wrong("at", report.at.isoformat(), "lies in the future", "enter when it happened")
    return kind


def _position(aircraft: Aircraft, kind: EventKind, report: EventReport) -> Position | None:
    if aircraft.withdrawn_on is not None:
        remedy = "bring it back into service first"
        raise _wrong("aircraft", aircraft.registration, "is withdrawn from service", remedy)
    if not report.position_code:
        if kind.needs_position or kind.change != EventKind.Change.NONE:
            raise _wrong("position", "", "is missing", "say where on the aircraft")
        return None
    try:
        position = position_for(aircraft, report.position_code)
    except NotFound as refusal:
        detail = "is no position of this aircraft"
        raise _wrong("position", report.position_code, detail, "choose from the list") from refusal
    if kind.component_kinds and position.kind.code not in kind.component_kinds:
        detail = f"holds a {position.kind.name.lower()}, which “{kind.name}” is not about"
        remedy = "choose another position or another kind of event"
        raise _wrong("position", report.position_code, detail, remedy)
    return position


def _change(
    actor: Actor, kind: EventKind, position: Position | None, report: EventReport
) -> tuple[Component | None, Component | None]:
    """Move the configuration as the kind of event says; component off and on, where there are any."""
    if kind.change not in FITS and (report.component_on_id or report.new_component):
        remedy = "leave it out, or choose another kind of event"
        raise _wrong("component_on", "", f"has no place in “{kind.name}”: nothing new is fitted", remedy)
    if kind.change == EventKind.Change.NONE or position is None:
        return None, None
    try:
        return _move(actor, kind, position, report)
    except (Invalid, Conflict) as refusal:
        raise type(refusal)(refusal.code, refusal.sentence, *map(_renamed, refusal.reasons)) from refusal


def _move(
    actor: Actor, kind: EventKind, position: Position, report: EventReport
) -> tuple[Component | None, Component | None]:
    reason = f"{kind.name}: {report.note}".strip(": ")[:LONGEST_REASON]
    place = Place(report.aircraft_id, position.pk, report.at, reason)
    if kind.change == EventKind.Change.REMOVE:
        return remove_component(actor=actor, place=place).component, None
    if kind.change == EventKind.Change.REFIT:
        off, on = refit_component(actor=actor, place=place)
        return off.component, on.component
    component_id = _component_on(actor, position, report)
    if kind.change == EventKind.Change.FIT:
        return None, fit_component(actor=actor, place=place, component_id=component_id).component
    off, on = swap_component(actor=actor, place=place, component_on_id=component_id)
    return off.component, on.component


def _component_on(actor: Actor, position: Position, report: EventReport) -> int:
    new = report.new_component
    if new is not None and report.component_on_id is not None:
        remedy = "choose one from the store, or register a new one, not both"
        raise _wrong("component_on", str(report.component_on_id), "stands beside a new component", remedy)
    if new is not None and new.kind_code not in ("", position.kind.code):
        detail = f"is no {position.kind.name.lower()}, which {position} holds"
        raise _wrong("new_component.kind_code", new.kind_code, detail, f"use {position.kind.code}")
    if new is not None:
        return register_component(actor=actor, new=replace(new, kind_code=position.kind.code)).pk
    if report.component_on_id is None:
        remedy = "choose the part that was fitted, or register a new one"
        raise _wrong("component_on", "", "is missing", remedy)
    return report.component_on_id


def _renamed(reason: Reason) -> Reason:
    name = FIELDS.get(reason.field, reason.field)
    if name in ("kind_code", "serial_number", "part_number"):
        name = f"new_component.{name}"
    return Reason(reason.detail, name, reason.value, reason.remedy)
