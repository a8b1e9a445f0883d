"""A task as its page shows it: why it exists, what it waits for, what it needs, what was found last time."""

from __future__ import annotations

from dataclasses import dataclass

from fleet.common.actor import Actor
from fleet.common.clock import local_day
from fleet.common.errors import NotFound
from fleet.selectors.aircraft import options_of
from records.models import BenchRun, RunState, SignedRecord
from records.selectors.at_hand import AtHand, at_hand
from scheduling.models import ProcedureVersion, Task, TaskCause
from scheduling.steps.parse import procedure_from_data
from scheduling.steps.terms import ProcedureContent

IN_HAND = (RunState.OPEN, RunState.PAUSED, RunState.FINISHED)


@dataclass(frozen=True, slots=True)
class TaskSheet:
    """Everything the page of a task shows. `version` is the text the work follows, None without a procedure."""

    task: Task
    causes: tuple[TaskCause, ...]
    waits_for: tuple[Task, ...]
    holds: tuple[Task, ...]
    version: ProcedureVersion | None
    content: ProcedureContent | None
    need: AtHand | None
    options: frozenset[str]
    runs: tuple[BenchRun, ...]
    previous: SignedRecord | None

    @property
    def waiting(self) -> tuple[Task, ...]:
        """What must be closed before this may start."""
        return tuple(task for task in self.waits_for if task.is_open)

    @property
    def run_in_hand(self) -> BenchRun | None:
        """The run that is being worked or waits for its signature."""
        return next((run for run in self.runs if run.state in IN_HAND), None)


def task_sheet(actor: Actor, task_id: int) -> TaskSheet:
    """The task with everything around it; a stranger's is not found."""
    task = (
        Task.objects.filter(pk=task_id, operator_id=actor.operator_id)
        .select_related(
            "aircraft__base",
            "aircraft__aircraft_type",
            "procedure",
            "procedure_version",
            "assigned_to",
            "position",
            "component__kind",
            "applicability__requirement",
            "withdrawn_by",
        )
        .first()
    )
    if task is None:
        raise NotFound("task_not_found", "There is no such task here.")
    version = _version(task)
    content = procedure_from_data(version.content) if version else None
    day = local_day(task.aircraft.base.zone)
    causes = task.causes.select_related("event__kind", "event__position", "rule").order_by("at", "id")
    runs = task.runs.select_related("performer", "record").order_by("number")
    return TaskSheet(
        task=task,
        causes=tuple(causes),
        waits_for=tuple(wait.first for wait in task.waits.select_related("first").order_by("first_id")),
        holds=tuple(wait.task for wait in task.holds.select_related("task").order_by("task_id")),
        version=version,
        content=content,
        need=at_hand(actor, task.aircraft, content, day) if content else None,
        options=options_of(task.aircraft),
        runs=tuple(runs),
        previous=_previous(task),
    )


def _version(task: Task) -> ProcedureVersion | None:
    if task.procedure_version is not None:
        return task.procedure_version
    if task.procedure is None:
        return None
    return task.procedure.versions.filter(state=ProcedureVersion.State.CURRENT).first()


def _previous(task: Task) -> SignedRecord | None:
    """The newest sealed record of the same procedure on the same aircraft, from another task."""
    if task.procedure_id is None:
        return None
    return (
        SignedRecord.objects.filter(
            aircraft_id=task.aircraft_id, run__procedure_version__procedure_id=task.procedure_id
        )
        .exclude(run__task_id=task.pk)
        .select_related("run")
        .order_by("-sequence")
        .first()
    )
