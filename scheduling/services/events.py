"""Reporting an event: one transaction keeps the event, moves the configuration and raises the work it demands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.core.files.base import File
from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason
from fleet.models import Aircraft, Component, Position
from fleet.selectors.aircraft import aircraft_by_id, position_for
from fleet.selectors.meters import counters_now
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
from scheduling.gather.work import closed_task_facts, current_rules, event_facts, open_task_facts
from scheduling.models import OPEN_STATES, Before, Event, EventKind, Task, TaskCause, TaskState
from scheduling.services.tasks import current_version, wait_for
from scheduling.triggers.match import match
from scheduling.triggers.merge import Join, Merged, Raise, TaskRef, merge
from scheduling.triggers.terms import Before as BeforeFacts
from scheduling.triggers.terms import BeforeKind

MINUTES_PER_HOUR = 60
BEFORE_OF = {
    BeforeKind.NEXT_FLIGHT: Before.NEXT_FLIGHT,
    BeforeKind.NEXT_ICING_FLIGHT: Before.NEXT_ICING_FLIGHT,
    BeforeKind.WITHIN_DAYS: Before.WITHIN_DAYS,
    BeforeKind.WITHIN_HOURS: Before.WITHIN_HOURS,
    BeforeKind.NEXT_TASK: Before.NEXT_ICING_FLIGHT,
}


@dataclass(frozen=True, slots=True)
class EventReport:
    """What somebody reports. `key` makes sending it twice harmless."""

    aircraft_id: int
    kind_code: str
    at: datetime
    key: str
    position_code: str = ""
    component_on_id: int | None = None
    new_component: NewComponent | None = None
    note: str = ""
    detail: Mapping[str, Any] = field(default_factory=dict)
    photo: File | None = None


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

    Refuses an unknown kind, a missing position or component, a moment in the future. The same key again
    answers what it answered before.
    """
    require(actor, Verb.REPORT_EVENT)
    aircraft_by_id(actor, report.aircraft_id)
    aircraft = (
        Aircraft.objects.select_for_update(of=("self",))
        .select_related("base", "aircraft_type")
        .get(pk=report.aircraft_id)
    )
    known = Event.objects.filter(aircraft=aircraft, key=report.key).select_related("kind").first()
    if known is not None:
        return _again(known, report)
    kind = _kind(actor, report)
    position = _position(aircraft, kind, report)
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
        photo=report.photo or "",
        key=report.key,
        reported_by_id=actor.user_id,
        reported_by_name=actor.name,
        reported_at=now(),
    )
    reported = _raise_work(actor, event)
    words = f"{kind.name}{f' at {position}' if position else ''} reported on {aircraft}"
    note(actor, "report_event", "event", event.pk, words, {"tasks": [t.pk for t in reported.raised]})
    return reported


def _again(known: Event, report: EventReport) -> Reported:
    if known.kind.code != report.kind_code or known.at != report.at:
        raise Conflict(
            "key_reused",
            "This key was used for another event of this aircraft.",
            Reason("was used for another event", "key", report.key, "send a fresh key"),
        )
    tasks = tuple(Task.objects.filter(causes__event=known).distinct())
    return Reported(known, tasks, (), (), repeated=True)


def _kind(actor: Actor, report: EventReport) -> EventKind:
    kind = EventKind.objects.filter(
        operator_id=actor.operator_id, code=report.kind_code, retired_on=None
    ).first()
    if kind is None:
        raise _wrong("kind", report.kind_code, "is no kind of event here", "choose one of the kinds listed")
    if report.at > now() + timedelta(minutes=1):
        raise _wrong("at", report.at.isoformat(), "lies in the future", "enter when it happened")
    if not report.key.strip():
        raise _wrong("key", "", "is missing", "send a key of your own that makes repeating harmless")
    return kind


def _position(aircraft: Aircraft, kind: EventKind, report: EventReport) -> Position | None:
    if not report.position_code:
        if kind.needs_position or kind.change != EventKind.Change.NONE:
            raise _wrong("position", "", "is missing", "say where on the aircraft")
        return None
    try:
        position = position_for(aircraft, report.position_code)
    except NotFound as refusal:
        raise _wrong(
            "position", report.position_code, "is no position of this aircraft", "choose from the list"
        ) from (refusal)
    if kind.component_kinds and position.kind.code not in kind.component_kinds:
        detail = f"holds a {position.kind.name.lower()}, which “{kind.name}” is not about"
        raise _wrong(
            "position", report.position_code, detail, "choose another position or another kind of event"
        )
    return position


def _change(
    actor: Actor, kind: EventKind, position: Position | None, report: EventReport
) -> tuple[Component | None, Component | None]:
    """Move the configuration as the kind of event says; component off and on, where there are any."""
    if kind.change == EventKind.Change.NONE or position is None:
        return None, None
    place = Place(report.aircraft_id, position.pk, report.at, f"{kind.name}: {report.note}".strip(": ")[:200])
    if kind.change == EventKind.Change.REMOVE:
        return remove_component(actor=actor, place=place).component, None
    if kind.change == EventKind.Change.REFIT:
        off, on = refit_component(actor=actor, place=place)
        return off.component, on.component
    component_id = _component_on(actor, report)
    if kind.change == EventKind.Change.FIT:
        return None, fit_component(actor=actor, place=place, component_id=component_id).component
    off, on = swap_component(actor=actor, place=place, component_on_id=component_id)
    return off.component, on.component


def _component_on(actor: Actor, report: EventReport) -> int:
    if report.new_component is not None:
        return register_component(actor=actor, new=report.new_component).pk
    if report.component_on_id is None:
        raise _wrong(
            "component_on", "", "is missing", "choose the part that was fitted, or register a new one"
        )
    return report.component_on_id


def _raise_work(actor: Actor, event: Event) -> Reported:
    """Ask the rules, fit their demands to what is open, write tasks, causes and waits."""
    facts = event_facts(event)
    demands = match(facts, current_rules(actor.operator_id))
    codes = {demand.procedure_code for demand in demands}
    merged = merge(demands, open_task_facts(event.aircraft), closed_task_facts(event.aircraft, codes))
    raised: list[Task] = []
    joined: list[Task] = []
    for order, action in enumerate(merged.actions, start=1):
        if isinstance(action, Raise):
            raised.append(_new_task(actor, event, action, order))
        else:
            joined.append(_join(event, action, order))
    _write_waits(event.aircraft, merged)
    return Reported(event, tuple(raised), tuple(joined), merged.notes)


def _new_task(actor: Actor, event: Event, action: Raise, order: int) -> Task:
    version = current_version(actor.operator_id, action.procedure_code)
    task = Task(
        operator_id=actor.operator_id,
        aircraft=event.aircraft,
        procedure=version.procedure,
        position=event.position if action.scope else None,
        scope=action.scope,
        title=action.title,
        consequence=version.consequence,
        order=order,
        is_defect=event.kind.code == "flow-test-failed",
        raised_at=now(),
    )
    _set_before(task, action.befores, event)
    task.save()
    _write_causes(task, event, action, order)
    return task


def _join(event: Event, action: Join, order: int) -> Task:
    """An open task gets the event as a further cause, and the stricter time limit; work begun starts again."""
    task = Task.objects.select_for_update(of=("self",)).get(pk=action.task_id)
    _set_before(task, action.befores, event)
    if action.repeat and task.state == TaskState.PLANNED:
        task.state = TaskState.RAISED
    task.version += 1
    task.save()
    _write_causes(task, event, action, order)
    return task


def _write_causes(task: Task, event: Event, action: Raise | Join, order: int) -> None:
    for cause, words in zip(action.causes, action.reasons, strict=False):
        TaskCause.objects.create(
            task=task,
            event_id=cause.event_id,
            rule_id=cause.rule_id,
            order=order,
            words=words[:400],
            at=now(),
        )


def _set_before(task: Task, befores: tuple[BeforeFacts, ...], event: Event) -> None:
    """The strictest limit names the task's time; days and hours each keep their earliest end."""
    strictest = min((*befores, *_present(task)), key=BeforeFacts.strictness)
    task.before = BEFORE_OF[strictest.kind]
    task.before_amount = strictest.amount
    for before in befores:
        _take_limit(task, before, event)


def _present(task: Task) -> tuple[BeforeFacts, ...]:
    kinds = {value: kind for kind, value in BEFORE_OF.items() if kind is not BeforeKind.NEXT_TASK}
    kind = kinds.get(Before(task.before)) if task.before else None
    return (BeforeFacts(kind, task.before_amount),) if kind else ()


def _take_limit(task: Task, before: BeforeFacts, event: Event) -> None:
    if before.kind is BeforeKind.WITHIN_DAYS:
        last = before.last_day(event_facts(event).at.date())
        task.latest_day = _earlier(task.latest_day, last)
    elif before.kind is BeforeKind.WITHIN_HOURS and before.amount is not None:
        minutes = (
            counters_now([task.aircraft_id])[task.aircraft_id].minutes + before.amount * MINUTES_PER_HOUR
        )
        task.latest_minutes = min(task.latest_minutes or minutes, minutes)


def _earlier(known: date | None, other: date | None) -> date | None:
    return min(day for day in (known, other) if day) if known or other else None


def _write_waits(aircraft: Aircraft, merged: Merged) -> None:
    for block in merged.blocks:
        wait_for(_task_of(aircraft, block.waiting), _task_of(aircraft, block.first))


def _task_of(aircraft: Aircraft, reference: TaskRef) -> Task:
    if reference.id is not None:
        return Task.objects.get(pk=reference.id)
    return Task.objects.get(
        aircraft=aircraft,
        procedure__code=reference.procedure_code,
        scope=reference.scope,
        state__in=OPEN_STATES,
    )


def _wrong(field_name: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field_name, value, remedy)
    return Invalid("bad_event", reason.sentence(), reason)
