"""What the rules demand because of an event, written down: tasks, their causes, and what waits for what."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from fleet.common.actor import Actor
from fleet.common.clock import now
from fleet.models import Aircraft
from fleet.selectors.meters import counters_at
from scheduling.gather.work import closed_task_facts, current_rules, event_facts, open_task_facts
from scheduling.models import OPEN_STATES, Before, Event, Task, TaskCause
from scheduling.services.tasks import LONGEST_WORDS, current_version, wait_for
from scheduling.triggers.before import settled
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
}
KIND_OF = {before: kind for kind, before in BEFORE_OF.items()}

Work = tuple[tuple[Task, ...], tuple[Task, ...], tuple[str, ...]]


def raise_work(actor: Actor, event: Event) -> Work:
    """Ask the rules, fit their demands to what is open: tasks raised, tasks joined, and notes in words.

    Runs in the caller's transaction, which holds the aircraft's row.
    """
    demands = settled(match(event_facts(event), current_rules(actor.operator_id)))
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
    return tuple(raised), tuple(joined), merged.notes


def _new_task(actor: Actor, event: Event, action: Raise, order: int) -> Task:
    version = current_version(actor.operator_id, action.procedure_code)
    task = Task(
        operator_id=actor.operator_id,
        aircraft=event.aircraft,
        procedure=version.procedure,
        position=event.position if action.scope else None,
        scope=action.scope,
        title=_title(event, action),
        consequence=version.consequence,
        order=order,
        is_defect=event.kind.is_defect,
        raised_at=now(),
    )
    _set_before(task, action.befores, event)
    task.save()
    _write_causes(task, event, action, order)
    return task


def _title(event: Event, action: Raise) -> str:
    """Tasks of one procedure on several positions say which."""
    return f"{action.title}, {event.position}" if action.scope and event.position else action.title


def _join(event: Event, action: Join, order: int) -> Task:
    """An open task gets the event as a further cause, and the stricter time limit."""
    task = Task.objects.select_for_update(of=("self",)).get(pk=action.task_id)
    _set_before(task, action.befores, event)
    task.is_defect = task.is_defect or event.kind.is_defect
    task.version += 1
    task.save()
    _write_causes(task, event, action, order)
    return task


def _write_causes(task: Task, event: Event, action: Raise | Join, order: int) -> None:
    for cause, words in zip(action.causes, action.reasons, strict=True):
        TaskCause.objects.create(
            task=task,
            event=event,
            rule_id=cause.rule_id,
            order=order,
            words=words[:LONGEST_WORDS],
            at=now(),
        )


def _set_before(task: Task, befores: tuple[BeforeFacts, ...], event: Event) -> None:
    """The strictest limit names the task's time; days and hours each keep their earliest end."""
    strictest = min((*befores, *_present(task)), key=BeforeFacts.strictness)
    task.before = BEFORE_OF[strictest.kind]
    is_hours = strictest.kind is BeforeKind.WITHIN_HOURS and strictest.amount is not None
    task.before_amount = (strictest.amount or 0) * MINUTES_PER_HOUR if is_hours else strictest.amount
    for before in befores:
        _take_limit(task, before, event)


def _present(task: Task) -> Iterable[BeforeFacts]:
    kind = KIND_OF.get(Before(task.before))
    if kind is None:
        return
    amount = task.before_amount
    yield BeforeFacts(
        kind, amount // MINUTES_PER_HOUR if amount and kind is BeforeKind.WITHIN_HOURS else amount
    )


def _take_limit(task: Task, before: BeforeFacts, event: Event) -> None:
    if before.kind is BeforeKind.WITHIN_DAYS:
        last = before.last_day(event_facts(event).at.date())
        task.latest_day = _earlier(task.latest_day, last)
    elif before.kind is BeforeKind.WITHIN_HOURS and before.amount is not None:
        flown = counters_at(task.aircraft_id, event.at).minutes + before.amount * MINUTES_PER_HOUR
        task.latest_minutes = flown if task.latest_minutes is None else min(task.latest_minutes, flown)


def _earlier(known: date | None, other: date | None) -> date | None:
    return min((day for day in (known, other) if day is not None), default=None)


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
