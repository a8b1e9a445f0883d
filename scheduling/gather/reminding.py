"""Rows into what reminders are written from: due items and tasks that may stand on a step, and who may be told."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date, time
from functools import lru_cache
from typing import Any

from django.conf import settings
from django.db.models import F, Q, QuerySet

from fleet.common.clock import local_day
from fleet.common.errors import Invalid
from fleet.models import Base, Membership, Operator, User
from fleet.selectors.meters import counters_now
from scheduling.due.engine import due_of
from scheduling.due.ladder import Ladder, Standing, ladder_from_data, standings_of
from scheduling.due.levels import NOTHING_LEFT
from scheduling.due.quiet_hours import Rest
from scheduling.due.terms import Measure
from scheduling.gather.due import DueItem, due_items
from scheduling.models import (
    OPEN_STATES,
    Applicability,
    Consequence,
    DueFact,
    ReminderChoice,
    ReminderLadder,
    Requirement,
    Task,
)

USUAL_REST = (time(21), time(6), time(6, 30))
COUNTED = (("hours", "minutes"), ("landings", "landings"), ("cycles", "cycles"))


@dataclass(frozen=True, slots=True)
class Matter:
    """One thing somebody may be reminded of, with how its limits stand today."""

    name: str
    title: str
    subject: str
    consequence: str
    ladder: Ladder
    standings: tuple[Standing, ...]
    words: tuple[str, ...]
    today: date
    base_id: int | None
    applicability_id: int | None = None
    task_id: int | None = None
    assigned_id: int | None = None


@dataclass(frozen=True, slots=True)
class Reader:
    """Somebody who may be told: roles by base (None: every base), rest, address, and how they want mail."""

    person: User
    roles: Mapping[str, frozenset[int | None]]
    rest: Rest
    by_mail: str

    def has(self, role: str, base_id: int | None) -> bool:
        """Whether they hold a role at a base, or at every base."""
        bases = self.roles.get(role, frozenset())
        return bool(bases & {None, base_id}) or (base_id is None and bool(bases))


@dataclass(slots=True)
class Readers:
    """Everybody at one operator who may be told."""

    of_all: dict[int, Reader] = field(default_factory=dict)

    def told(self, roles: Iterable[str], base_id: int | None, assigned_id: int | None) -> list[Reader]:
        """Who answers to these roles for something at a base; where nobody there does, whoever holds the role."""
        found: dict[int, Reader] = {}
        for role in roles:
            if role == "assigned":
                some = [self.of_all[assigned_id]] if assigned_id in self.of_all else []
            else:
                holders = [one for one in self.of_all.values() if role in one.roles]
                some = [one for one in holders if one.has(role, base_id)] or holders
            found.update({one.person.pk: one for one in some})
        return list(found.values())


@lru_cache(maxsize=1)
def usual_ladders() -> dict[str, dict[str, Any]]:
    """The ladders this product comes with, by consequence, as written."""
    path = settings.ROOT / "fixtures" / "rules" / "reminder_ladders.json"
    written: dict[str, dict[str, Any]] = json.loads(path.read_text())
    return written


def ladders_as_written(operator_id: int) -> dict[str, dict[str, Any]]:
    """The operator's ladder for every consequence: its own where it wrote one, else the usual."""
    own = ReminderLadder.objects.filter(operator_id=operator_id).values_list("consequence", "steps")
    return {value: usual_ladders()[value] for value in Consequence.values} | dict(own)


def readers_of(operator: Operator) -> Readers:
    """Everybody with a role, in three queries."""
    roles: dict[int, dict[str, set[int | None]]] = defaultdict(lambda: defaultdict(set))
    home: dict[int, Base] = {}
    people: dict[int, User] = {}
    rows = Membership.objects.filter(operator=operator, user__is_active=True).select_related("user", "base")
    for row in rows.order_by("id"):
        people[row.user_id] = row.user
        roles[row.user_id][row.role].add(row.base_id)
        if row.base is not None:
            home.setdefault(row.user_id, row.base)
    choices = dict(ReminderChoice.objects.filter(operator=operator).values_list("person_id", "by_mail"))
    usual = ReminderChoice.ByMail.DIGEST
    return Readers(
        {
            pk: Reader(
                person,
                {role: frozenset(bases) for role, bases in roles[pk].items()},
                rest_of(home.get(pk), operator),
                choices.get(pk, usual),
            )
            for pk, person in people.items()
        }
    )


def rest_of(base: Base | None, operator: Operator) -> Rest:
    """Quiet hours and morning of a base; somebody at every base keeps the usual hours in the operator's zone."""
    if base is not None:
        return Rest(base.zone, base.quiet_from, base.quiet_to, base.digest_at)
    return Rest(operator.day_zone, *USUAL_REST)


def matters_of(operator: Operator, also: Iterable[int] = ()) -> list[Matter]:
    """Everything of the operator that may stand on a step: due items (with those named in `also`) and tasks."""
    written = ladders_as_written(operator.pk)
    furthest = _furthest(operator.pk, written)
    wanted = _near(operator, furthest).values("pk")
    rows = Applicability.objects.filter(
        Q(pk__in=wanted) | Q(pk__in=list(also)),
        requirement__operator=operator,
        is_active=True,
    )
    items = due_items(rows)
    tasks = _open_tasks([item.id for item in items])
    due = [_due_matter(item, written, tasks.get(item.id)) for item in items]
    return [*due, *_task_matters(operator, written)]


def _furthest(operator_id: int, written: Mapping[str, Mapping[str, Any]]) -> dict[str, int]:
    """The largest step of any ladder the operator uses, by field."""
    own = Requirement.objects.filter(operator_id=operator_id, is_current=True).exclude(ladder={})
    ladders = [*written.values(), *own.values_list("ladder", flat=True)]
    most: dict[str, int] = defaultdict(int)
    for ladder in (_ladder(usual_ladders()["none"], one) for one in ladders):
        for name, steps in ladder.steps.items():
            most[name] = max(most[name], steps[0])
    return most


def _ladder(usual: Mapping[str, Any], own: Mapping[str, Any]) -> Ladder:
    """The requirement's own steps over the usual ones.

    Steps are checked when written; one row that makes no sense all the same must not silence all others.
    """
    try:
        return ladder_from_data({**usual, **own})
    except Invalid:
        return ladder_from_data(usual)


def _near(operator: Operator, furthest: Mapping[str, int]) -> QuerySet[DueFact]:
    """Due facts within the furthest step, by day or by counter; other limits are near once they warn."""
    today = local_day(operator.day_zone).toordinal() + 1
    wanted = Q(due_day__lte=today + furthest["days"]) | Q(soon_day__lte=today)
    for name, column in COUNTED:
        shown = F(f"aircraft__measured_use__reckoned_{column}")
        wanted |= Q(**{f"due_{column}__lte": shown + furthest[name]})
    return DueFact.objects.filter(wanted, operator=operator, order_day__lt=NOTHING_LEFT, is_known=True)


def _open_tasks(applicability_ids: list[int]) -> dict[int, Task]:
    rows = Task.objects.filter(applicability_id__in=applicability_ids, state__in=OPEN_STATES)
    return {task.applicability_id: task for task in rows if task.applicability_id is not None}


def _due_matter(item: DueItem, written: Mapping[str, Mapping[str, Any]], task: Task | None) -> Matter:
    requirement = item.requirement
    result = due_of(requirement.limits, item.facts)
    ladder = _ladder(written[requirement.consequence], requirement.ladder)
    aircraft = item.aircraft
    where = f"{aircraft.registration}, {item.subject}" if item.component and aircraft else item.subject
    return Matter(
        name=f"due-{item.id}",
        title=requirement.title,
        subject=where,
        consequence=requirement.consequence,
        ladder=ladder,
        standings=() if result.status.value == "complete" else standings_of(requirement.limits, result),
        words=result.explanation,
        today=item.facts.today,
        base_id=aircraft.base_id if aircraft else None,
        applicability_id=item.id,
        task_id=task.pk if task else None,
        assigned_id=task.assigned_to_id if task else None,
    )


def _task_matters(operator: Operator, written: Mapping[str, Mapping[str, Any]]) -> list[Matter]:
    """Open tasks with a last day or a last hour that no due item already speaks for."""
    rows = Task.objects.filter(operator=operator, state__in=OPEN_STATES, applicability=None)
    rows = rows.filter(Q(latest_day__isnull=False) | Q(latest_minutes__isnull=False))
    tasks = list(rows.select_related("aircraft__base"))
    counters = counters_now({task.aircraft_id for task in tasks})
    return [_task_matter(task, written, counters[task.aircraft_id].minutes) for task in tasks]


def _task_matter(task: Task, written: Mapping[str, Mapping[str, Any]], minutes: int) -> Matter:
    today = local_day(task.aircraft.base.zone)
    standings = []
    if task.latest_day is not None:
        left = (task.latest_day - today).days
        standings.append(Standing("day", Measure.DATE, task.latest_day, left, is_overdue=left < 0))
    if task.latest_minutes is not None:
        left = task.latest_minutes - minutes
        standings.append(Standing("hours", Measure.HOURS, task.latest_minutes, left, is_overdue=left < 0))
    return Matter(
        name=f"task-{task.pk}",
        title=task.title,
        subject=task.aircraft.registration,
        consequence=task.consequence,
        ladder=ladder_from_data(written[task.consequence]),
        standings=tuple(standings),
        words=(f"{task.title} on {task.aircraft.registration} is {task.get_state_display()}.",),
        today=today,
        base_id=task.aircraft.base_id,
        task_id=task.pk,
        assigned_id=task.assigned_to_id,
    )
