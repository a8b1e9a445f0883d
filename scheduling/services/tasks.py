"""The life of a task: raised, assigned, started, handed in, closed or withdrawn. Every change has its actor."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db import transaction
from django.db.models import F

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound, Reason
from fleet.selectors.aircraft import aircraft_by_id
from fleet.selectors.people import person_for
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
    version = current_version(actor.operator_id, wanted.procedure_code)
    known = Task.objects.filter(
        aircraft=aircraft, procedure=version.procedure, scope=wanted.scope, state__in=OPEN_STATES
    ).first()
    if known is not None:
        _adopt(known, wanted)
        TaskCause.objects.create(task=known, words=wanted.why[:400], at=now())
        note(actor, "join_task", "task", known.pk, f"{known.title}: also because {wanted.why}")
        return known, True
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
    TaskCause.objects.create(task=task, words=wanted.why[:400], at=now())
    note(actor, "raise_task", "task", task.pk, f"{task.title} raised on {aircraft}: {wanted.why}")
    return task, False


def _adopt(task: Task, wanted: WantedTask) -> None:
    """An open task answers a due limit too from now on, and keeps the earlier of two dates."""
    if wanted.applicability_id and task.applicability_id is None:
        task.applicability_id = wanted.applicability_id
    if wanted.latest_day and (task.latest_day is None or wanted.latest_day < task.latest_day):
        task.latest_day = wanted.latest_day
    task.version = F("version") + 1
    task.save()
    task.refresh_from_db()


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
    """Give a task to somebody, or to nobody. Refuses a closed one and a stranger."""
    require(actor, Verb.PLAN)
    task = lock_task(actor, task_id)
    _must_be_open(task)
    person = person_for(actor, person_id) if person_id is not None else None
    task.assigned_to = person
    _save(task)
    note(actor, "assign_task", "task", task.pk, f"{task.title}: {person.full_name if person else 'nobody'}")
    return task


@transaction.atomic
def start_task(*, actor: Actor, task_id: int) -> Task:
    """Begin the work on the procedure's current version. Refuses while work it waits for is open (`waits_for_work`)."""
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
    task.started_at = now()
    _save(task)
    note(actor, "start_task", "task", task.pk, f"{task.title} started by {actor.name}")
    return task


@transaction.atomic
def hand_in_task(*, actor: Actor, task_id: int) -> Task:
    """The work is done and waits for its signature; the aircraft may not fly before the entry is made."""
    task = lock_task(actor, task_id)
    _must_be(task, TaskState.IN_WORK)
    task.state = TaskState.AWAITING_SIGNATURE
    _save(task)
    note(actor, "hand_in_task", "task", task.pk, f"{task.title} done, awaiting signature")
    return task


@transaction.atomic
def return_task(*, actor: Actor, task_id: int, words: str) -> Task:
    """The work did not answer its need (a failed, invalid or abandoned run): the task stands open again."""
    task = lock_task(actor, task_id)
    _must_be(task, TaskState.IN_WORK, TaskState.AWAITING_SIGNATURE)
    task.state = TaskState.RAISED
    task.started_at = None
    task.procedure_version = None
    _save(task)
    TaskCause.objects.create(task=task, words=words[:400], at=now())
    note(actor, "return_task", "task", task.pk, f"{task.title} open again: {words}")
    return task


@transaction.atomic
def complete_task(*, actor: Actor, completion: Completion) -> Task:
    """Close a task on the strength of a signed record and move its next due. Refuses without proof or order."""
    task = lock_task(actor, completion.task_id)
    _must_be(task, TaskState.AWAITING_SIGNATURE)
    must_not_wait(task)
    if not completion.proof:
        raise _wrong("proof", "", "is missing", "a task closes on a signed record only")
    task.state = TaskState.CLOSED
    task.closed_at = completion.at
    task.closed_minutes = completion.counters.minutes
    task.proof = completion.proof
    _save(task)
    move_last_done(actor=actor, task=task, completion=completion)
    note(actor, "complete_task", "task", task.pk, f"{task.title} closed by record {completion.proof}")
    return task


@transaction.atomic
def withdraw_task(*, actor: Actor, task_id: int, reason: str) -> Task:
    """Take back a task that should not be, with a reason. Work begun is finished or returned first."""
    require(actor, Verb.RAISE_TASK)
    task = lock_task(actor, task_id)
    if not reason.strip():
        raise _wrong("reason", "", "is missing", "say why the work is not needed")
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
    """Refuse (`waits_for_work`) while something this task waits for is still open."""
    firsts = [wait.first for wait in task.waits.select_related("first") if wait.first.is_open]
    words = start_refusal(task.title, [first.title for first in firsts])
    if words:
        reasons = [
            Reason(
                f"{first.title} is {first.get_state_display()}", f"task {first.pk}", remedy="close it first"
            )
            for first in firsts
        ]
        raise Conflict("waits_for_work", words, *reasons)


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


def _wrong(field_name: str, value: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field_name, value, remedy)
    return Invalid("bad_task", reason.sentence(), reason)
