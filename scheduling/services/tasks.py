"""The life of a task: raised, assigned, started, handed in, closed or withdrawn. Every change has its actor."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from functools import partial

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, NotAllowed, NotFound, Reason, wrong
from fleet.models import Aircraft
from fleet.selectors.aircraft import aircraft_by_id
from fleet.selectors.people import actor_for, person_for
from fleet.services.trail import note
from scheduling.models import (
    OPEN_STATES,
    Before,
    ProcedureVersion,
    Task,
    TaskCause,
    TaskState,
    TaskWait,
)
from scheduling.services.accomplishment import Completion, move_last_done
from scheduling.status import start_refusal

_wrong = partial(wrong, code="bad_task")

LONGEST_WORDS = 400


@dataclass(frozen=True, slots=True)
class WantedTask:
    """Work somebody (or a due limit) wants on an aircraft."""

    aircraft_id: int
    procedure_code: str
    title: str
    why: str
    before: str = Before.NONE
    latest_day: date | None = None
    latest_minutes: int | None = None
    applicability_id: int | None = None
    scope: str = ""
    consequence: str = ""
    is_defect: bool = False


@transaction.atomic
def raise_task(*, actor: Actor, wanted: WantedTask) -> tuple[Task, bool]:
    """Raise one task, or join the open one of the same procedure and scope; the flag says it was there already.

    Refuses an unknown procedure and an empty reason.
    """
    require(actor, Verb.RAISE_TASK)
    aircraft = aircraft_by_id(actor, wanted.aircraft_id)
    if not wanted.why.strip():
        raise _wrong("why", "", "is missing", "say why this work is wanted")
    if wanted.before not in Before.values:
        moments = ", ".join(Before.values)
        raise _wrong("before", wanted.before, "is nothing work is due before", f"use one of: {moments}")
    version = current_version(actor.operator_id, wanted.procedure_code)
    Aircraft.objects.select_for_update(of=("self",)).get(pk=aircraft.pk)
    known = _open_already(wanted, version)
    if known is not None:
        return _adopt(actor, known, wanted), True
    task = Task.objects.create(
        operator_id=actor.operator_id,
        aircraft=aircraft,
        procedure=version.procedure,
        applicability_id=wanted.applicability_id,
        scope=wanted.scope,
        title=wanted.title or version.procedure.title,
        consequence=wanted.consequence or version.consequence,
        before=wanted.before,
        latest_day=wanted.latest_day,
        latest_minutes=wanted.latest_minutes,
        is_defect=wanted.is_defect,
        raised_at=now(),
    )
    TaskCause.objects.create(task=task, words=wanted.why.strip()[:LONGEST_WORDS], at=now())
    note(actor, "raise_task", "task", task.pk, f"{task.title} raised on {aircraft}: {wanted.why}")
    return task, False


def _open_already(wanted: WantedTask, version: ProcedureVersion) -> Task | None:
    """The open task that answers the same due item, or that is the same work at the same place."""
    rows = Task.objects.select_for_update(of=("self",)).filter(
        aircraft_id=wanted.aircraft_id, state__in=OPEN_STATES
    )
    answering = (
        rows.filter(applicability_id=wanted.applicability_id) if wanted.applicability_id else rows.none()
    )
    return answering.first() or rows.filter(procedure=version.procedure, scope=wanted.scope).first()


def _adopt(actor: Actor, task: Task, wanted: WantedTask) -> Task:
    """An open task answers this want too from now on, and keeps the earlier of two limits."""
    if wanted.applicability_id and task.applicability_id is None:
        task.applicability_id = wanted.applicability_id
    if task.before == Before.NONE:
        task.before = wanted.before
    task.latest_day = min(filter(None, (task.latest_day, wanted.latest_day)), default=None)
    task.latest_minutes = min(
        (minutes for minutes in (task.latest_minutes, wanted.latest_minutes) if minutes is not None),
        default=None,
    )
    _save(task)
    words = wanted.why.strip()[:LONGEST_WORDS]
    if not task.causes.filter(event=None, words=words).exists():
        TaskCause.objects.create(task=task, words=words, at=now())
        note(actor, "join_task", "task", task.pk, f"{task.title}: also because {words}")
    return task


def current_version(operator_id: int, procedure_code: str) -> ProcedureVersion:
    """The version new work follows. Refuses a procedure that is not there or has no current version."""
    version = (
        ProcedureVersion.objects.filter(
            procedure__operator_id=operator_id, procedure__code=procedure_code, state="current"
        )
        .select_related("procedure")
        .first()
    )
    if version is None:
        raise _wrong(
            "procedure", procedure_code, "is no procedure in force", "publish it first, or choose another"
        )
    return version


@transaction.atomic
def assign_task(*, actor: Actor, task_id: int, person_id: int | None) -> Task:
    """Give a task to somebody who may do it, or to nobody; who does the work may take what nobody has.

    Refuses a closed task, a stranger, somebody whose role does no work.
    """
    task = lock_task(actor, task_id)
    takes_it = task.assigned_to_id is None and person_id is not None and person_id == actor.user_id
    if not (takes_it and actor.may(Verb.PERFORM)):
        require(actor, Verb.PLAN)
    _must_be_open(task)
    person = person_for(actor, person_id) if person_id is not None else None
    if person is not None and not actor_for(person, actor.operator_id).may(Verb.PERFORM):
        raise _wrong("person", person.full_name, "has no role that does this work", "choose a technician")
    if task.assigned_to_id == person_id:
        return task
    task.assigned_to = person
    _save(task)
    note(actor, "assign_task", "task", task.pk, f"{task.title}: {person.full_name if person else 'nobody'}")
    return task


@transaction.atomic
def assign_tasks(*, actor: Actor, task_ids: Iterable[int], person_id: int | None) -> list[Task]:
    """Give several tasks to one person, or to nobody: all of them or none."""
    return [assign_task(actor=actor, task_id=pk, person_id=person_id) for pk in _in_order(task_ids)]


@transaction.atomic
def withdraw_tasks(*, actor: Actor, task_ids: Iterable[int], reason: str) -> list[Task]:
    """Take several tasks back for one reason: all of them or none."""
    return [withdraw_task(actor=actor, task_id=pk, reason=reason) for pk in _in_order(task_ids)]


def _in_order(task_ids: Iterable[int]) -> list[int]:
    """Each once, lowest first, so that two people picking the same tasks do not wait for each other."""
    ids = sorted(set(task_ids))
    if not ids:
        raise _wrong("tasks", "", "none is picked", "tick at least one")
    return ids


@transaction.atomic
def start_task(*, actor: Actor, task_id: int, at: datetime | None = None) -> Task:
    """Begin the work on the procedure's current version; `at` is when it began where that was earlier.

    Refuses while work it waits for is open (`waits_for_other_work`), and a task that is not startable.
    """
    require(actor, Verb.PERFORM)
    task = lock_task(actor, task_id)
    if task.state == TaskState.IN_WORK:
        return task
    if task.state not in (TaskState.RAISED, TaskState.PLANNED):
        raise Conflict(
            "task_not_startable", f"{task.title} is {task.get_state_display()} and cannot be started."
        )
    must_not_wait(task)
    if task.procedure is None:
        raise Conflict("no_procedure", f"{task.title} follows no procedure and cannot be run step by step.")
    version = current_version(actor.operator_id, task.procedure.code)
    ProcedureVersion.objects.filter(pk=version.pk, first_used_at=None).update(first_used_at=now())
    task.procedure_version = version
    task.state = TaskState.IN_WORK
    task.started_at = min(at, now()) if at else now()
    _save(task)
    note(actor, "start_task", "task", task.pk, f"{task.title} started by {actor.name}")
    return task


@transaction.atomic
def hand_in_task(*, actor: Actor, task_id: int) -> Task:
    """The work is done and waits for its signature; the aircraft may not fly before the entry is made."""
    require(actor, Verb.PERFORM)
    task = lock_task(actor, task_id)
    _must_be(task, TaskState.IN_WORK)
    task.state = TaskState.AWAITING_SIGNATURE
    _save(task)
    note(actor, "hand_in_task", "task", task.pk, f"{task.title} done, awaiting signature")
    return task


@transaction.atomic
def return_task(*, actor: Actor, task_id: int, words: str) -> Task:
    """The work did not answer its need (a failed, invalid or abandoned run): the task stands open again."""
    require(actor, Verb.PERFORM)
    task = lock_task(actor, task_id)
    _must_be(task, TaskState.IN_WORK, TaskState.AWAITING_SIGNATURE)
    return _open_again(actor, task, words)


@transaction.atomic
def complete_task(*, actor: Actor, completion: Completion) -> Task:
    """Close a task on the strength of a signed record and move its next due. Refuses without proof or order.

    Work begun before something that calls for it again does not answer it: the record stands, and the task
    is open again.
    """
    require(actor, Verb.PERFORM)
    task = lock_task(actor, completion.task_id)
    _must_be(task, TaskState.AWAITING_SIGNATURE)
    must_not_wait(task)
    if not completion.proof:
        raise _wrong("proof", "", "is missing", "a task closes on a signed record only")
    outdated = called_for_again(task)
    if outdated:
        return _open_again(actor, task, f"record {completion.proof} does not answer it: {outdated}")
    task.state = TaskState.CLOSED
    task.closed_at = completion.at
    task.closed_minutes = completion.counters.minutes
    task.proof = completion.proof
    _save(task)
    move_last_done(actor=actor, task=task, completion=completion)
    note(actor, "complete_task", "task", task.pk, f"{task.title} closed by record {completion.proof}")
    return task


def called_for_again(task: Task) -> str:
    """Why work begun at `started_at` does not answer the task, in words; empty where it does.

    An event after the work began calls for it again, and so does work that should have come first and did not.
    """
    if task.started_at is None:
        return ""
    later = task.causes.filter(event__at__gt=task.started_at).select_related("event__kind").last()
    if later is not None and later.event is not None:
        return f"it was begun before the event “{later.event.kind.name}”"
    late = task.waits.filter(first__state=TaskState.CLOSED, first__closed_at__gt=task.started_at)
    first = late.select_related("first").last()
    return f"it was begun before {first.first.title} was closed" if first else ""


def _open_again(actor: Actor, task: Task, words: str) -> Task:
    task.state = TaskState.RAISED
    task.started_at = None
    task.procedure_version = None
    _save(task)
    TaskCause.objects.create(task=task, words=words[:LONGEST_WORDS], at=now())
    note(actor, "return_task", "task", task.pk, f"{task.title} open again: {words}")
    return task


@transaction.atomic
def withdraw_task(*, actor: Actor, task_id: int, reason: str) -> Task:
    """Take back a task that should not be, with a reason. Work begun is finished or returned first."""
    require(actor, Verb.RAISE_TASK)
    task = lock_task(actor, task_id)
    if not reason.strip():
        raise _wrong("reason", "", "is missing", "say why the work is not needed")
    if task.state == TaskState.WITHDRAWN and task.withdrawn_reason == reason.strip()[:300]:
        return task
    _must_be(task, TaskState.RAISED, TaskState.PLANNED)
    if task.is_defect:
        raise NotAllowed(
            "defect_stays", f"{task.title} answers a failed test: it is closed by work, not withdrawn."
        )
    task.state = TaskState.WITHDRAWN
    task.withdrawn_reason = reason.strip()[:300]
    task.withdrawn_by_id = actor.user_id
    task.closed_at = now()
    _save(task)
    note(actor, "withdraw_task", "task", task.pk, f"{task.title} withdrawn: {reason}")
    return task


def must_not_wait(task: Task) -> None:
    """Refuse (`waits_for_other_work`) while something this task waits for is still open."""
    firsts = [wait.first for wait in task.waits.select_related("first") if wait.first.is_open]
    words = start_refusal(task.title, [first.title for first in firsts])
    if words:
        reasons = [
            Reason(f"{first.title} is {first.get_state_display()}", remedy=f"close task {first.pk} first")
            for first in firsts
        ]
        raise Conflict("waits_for_other_work", words, *reasons)


def lock_task(actor: Actor, task_id: int) -> Task:
    """The task, locked for the transaction; a stranger's is not found."""
    task = (
        Task.objects.select_for_update(of=("self",))
        .filter(pk=task_id, operator_id=actor.operator_id)
        .select_related("aircraft__base", "procedure")
        .first()
    )
    if task is None:
        raise NotFound("task_not_found", "There is no such task here.")
    return task


def wait_for(task: Task, first: Task) -> None:
    """Make one task wait for another."""
    TaskWait.objects.get_or_create(task=task, first=first)


def _save(task: Task) -> None:
    task.version += 1
    task.save()


def _must_be_open(task: Task) -> None:
    if not task.is_open:
        raise Conflict("task_not_open", f"{task.title} is {task.get_state_display()}.")


def _must_be(task: Task, *states: TaskState) -> None:
    if task.state not in states:
        wanted = " or ".join(state.label for state in states)
        raise Conflict("wrong_state", f"{task.title} is {task.get_state_display()}; this needs it {wanted}.")
