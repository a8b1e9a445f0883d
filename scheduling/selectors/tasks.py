"""Reads about tasks: lists with filters, one task with its reasons, by when in words."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Case, IntegerField, OuterRef, Prefetch, Q, QuerySet, Subquery, Value, When

from fleet.common.actor import Actor
from fleet.common.clock import local_day
from fleet.common.errors import NotFound
from fleet.common.wording import day, hours
from fleet.models import Meter
from scheduling.models import OPEN_STATES, Before, Consequence, Task, TaskCause, TaskState, TaskWait

CLOSED_STATES = [TaskState.CLOSED, TaskState.WITHDRAWN]
MINUTES_PER_HOUR = 60
SORTS = {
    "urgency": ("urgency", "latest_day", "raised_at", "order", "id"),
    "raised": ("raised_at", "order", "id"),
    "aircraft": ("aircraft__registration", "urgency", "raised_at", "order", "id"),
    "title": ("title", "raised_at", "id"),
    "state": ("state", "urgency", "raised_at", "id"),
    "person": ("assigned_to__last_name", "assigned_to__first_name", "urgency", "raised_at", "id"),
}
# What stops flying stands first; inside that, work begun and unsigned, then by when it must be done.
URGENCY = Case(
    When(state__in=CLOSED_STATES, then=Value(9)),
    When(state=TaskState.AWAITING_SIGNATURE, then=Value(0)),
    When(before=Before.NEXT_FLIGHT, then=Value(1)),
    When(consequence=Consequence.AIRWORTHINESS, is_defect=True, then=Value(1)),
    When(state=TaskState.IN_WORK, then=Value(2)),
    When(before=Before.NEXT_ICING_FLIGHT, then=Value(3)),
    When(is_defect=True, then=Value(3)),
    When(before=Before.NONE, then=Value(6)),
    default=Value(5),
    output_field=IntegerField(),
)

SHOWN_MINUTES = Meter.objects.filter(
    aircraft=OuterRef("aircraft"), component=None, kind=Meter.Kind.MINUTES
).order_by()


@dataclass(frozen=True, slots=True)
class TaskQuery:
    """How somebody wants to see tasks. `whose`: mine, free, base, all; `state`: open, closed, all, or one state."""

    whose: str = "all"
    state: str = "open"
    search: str = ""
    base: str = ""
    aircraft: str = ""
    sort: str = "urgency"


def tasks(actor: Actor) -> QuerySet[Task]:
    """The operator's tasks with what a list shows of them; `urgency` sorts them, least first."""
    open_waits = TaskWait.objects.filter(first__state__in=OPEN_STATES).select_related("first")
    return (
        Task.objects.filter(operator_id=actor.operator_id)
        .select_related("aircraft__base", "procedure", "assigned_to", "position", "applicability__due_fact")
        .prefetch_related(
            Prefetch("waits", queryset=open_waits, to_attr="open_waits"),
            Prefetch("causes", queryset=TaskCause.objects.order_by("at", "id"), to_attr="why"),
        )
        .annotate(urgency=URGENCY, shown_minutes=Subquery(SHOWN_MINUTES.values("value")[:1]))
    )


def task_list(actor: Actor, query: TaskQuery) -> QuerySet[Task]:
    """The tasks that fit the query, in its order; an unknown sort or state is as if it were not given."""
    rows = _whose(actor, tasks(actor), query.whose)
    rows = _in_state(rows, query.state)
    if query.search.strip():
        words = query.search.strip()
        rows = rows.filter(
            Q(title__icontains=words)
            | Q(aircraft__registration__icontains=words)
            | Q(procedure__code__icontains=words)
        )
    if query.base:
        rows = rows.filter(aircraft__base__code=query.base)
    if query.aircraft:
        rows = rows.filter(aircraft__registration__iexact=query.aircraft)
    name = query.sort.removeprefix("-")
    first, *rest = SORTS.get(name, SORTS["urgency"])
    return rows.order_by(f"-{first}" if query.sort.startswith("-") else first, *rest)


def _whose(actor: Actor, rows: QuerySet[Task], whose: str) -> QuerySet[Task]:
    if whose == "mine":
        return rows.filter(assigned_to_id=actor.user_id)
    if whose == "free":
        return rows.filter(assigned_to=None)
    if whose == "base" and actor.base_id is not None:
        return rows.filter(aircraft__base_id=actor.base_id)
    return rows


def _in_state(rows: QuerySet[Task], state: str) -> QuerySet[Task]:
    if state == "all":
        return rows
    if state in TaskState.values:
        return rows.filter(state=state)
    return rows.filter(state__in=CLOSED_STATES if state == "done" else OPEN_STATES)


def open_tasks(actor: Actor) -> QuerySet[Task]:
    """Every open task of the operator, most urgent first."""
    return task_list(actor, TaskQuery())


def task_for(actor: Actor, task_id: int) -> Task:
    """One task; a stranger's is not found."""
    row = tasks(actor).filter(pk=task_id).first()
    if row is None:
        raise NotFound("task_not_found", "There is no such task here.")
    return row


def by_when(task: Task) -> str:
    """By when a task must be closed, in words: "before next flight, by 8 Mar 2025", "overdue: by 8 Mar 2025"."""
    limits = [f"by {day(task.latest_day)}"] if task.latest_day else []
    limits += [f"before {hours(task.latest_minutes)}"] if task.latest_minutes is not None else []
    if task.before in (Before.NEXT_FLIGHT, Before.NEXT_ICING_FLIGHT):
        limits.insert(0, task.get_before_display())
    elif not limits:
        limits.append(_amount(task) if task.before_amount else task.get_before_display())
    words = ", ".join(limits)
    return f"overdue: {words}" if is_overdue(task) else words


def is_overdue(task: Task) -> bool:
    """Whether an open task's time has passed: by the item of the programme it answers, or by its own limits."""
    if task.state in CLOSED_STATES:
        return False
    today = local_day(task.aircraft.base.zone)
    fact = getattr(task.applicability, "due_fact", None)
    if fact is not None:
        return fact.overdue_day is not None and fact.overdue_day <= today.toordinal()
    shown = getattr(task, "shown_minutes", None)
    is_flown = task.latest_minutes is not None and shown is not None and shown > task.latest_minutes
    return is_flown or (task.latest_day is not None and task.latest_day < today)


def _amount(task: Task) -> str:
    amount = task.before_amount or 0
    if task.before == Before.WITHIN_HOURS:
        return f"within {amount // MINUTES_PER_HOUR} flight hours"
    return f"within {amount} days"
