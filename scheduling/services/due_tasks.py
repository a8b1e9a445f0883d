"""Open tasks follow the due items they answer: what lets an item wait longer, or less long, does so to its task."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date

from django.db.models import Min, Q, QuerySet

from fleet.common.clock import now
from scheduling.models import OPEN_STATES, Applicability, DueFact, Task, TaskCause
from scheduling.selectors.answered import answered_by

Lawful = tuple[date | None, int | None]
"""The last lawful day, and the last lawful minutes of the aircraft's own meter."""


def lock_open_work(applicability_ids: Collection[int] | QuerySet[Applicability]) -> list[Task]:
    """The open tasks of these items, locked. Taken before the items themselves, as whoever closes a task does."""
    rows = Task.objects.select_for_update(of=("self",)).filter(
        applicability__in=applicability_ids, state__in=OPEN_STATES
    )
    return list(rows.order_by("pk"))


def lawful_of_open_work(applicability_ids: Collection[int]) -> dict[int, Lawful]:
    """How long the items among these with an open task may wait, as the due list keeps it."""
    rows = DueFact.objects.filter(
        applicability__in=applicability_ids, applicability__tasks__state__in=OPEN_STATES
    )
    return {
        pk: _lawful(day, minutes)
        for pk, day, minutes in rows.values_list("pk", "lawful_day", "lawful_minutes")
    }


def follow(before: Mapping[int, Lawful]) -> None:
    """Move the limits of open tasks that came from their items; `before` is what those items allowed until now.

    What something else asked of a task stays, and of several items a task answers the strictest counts.
    """
    if not before:
        return
    for task in lock_open_work(list(before)):
        assert task.applicability_id is not None  # noqa: S101 - found by it
        old, new = before[task.applicability_id], _strictest(task)
        day = new[0] if task.latest_day == old[0] else task.latest_day
        minutes = new[1] if task.latest_minutes == old[1] else task.latest_minutes
        if (day, minutes) != (task.latest_day, task.latest_minutes):
            task.latest_day, task.latest_minutes = day, minutes
            task.version += 1
            task.save(update_fields=["latest_day", "latest_minutes", "version"])


def tell_open_work(applicability_id: int, words: str) -> None:
    """Keep with the open tasks of an item what happened to it, among the reasons why they stand as they do."""
    for task in lock_open_work([applicability_id]):
        TaskCause.objects.create(task=task, words=words[:400], at=now())


def _strictest(task: Task) -> Lawful:
    """What its own item allows, and every other item that the task answers and that is due soon."""
    tomorrow = now().date().toordinal() + 1
    counts = Q(pk=task.applicability_id) | Q(soon_day__lte=tomorrow)
    answered = answered_by(task, now()).values("pk")
    facts = DueFact.objects.filter(counts, applicability__in=answered, aircraft_id=task.aircraft_id)
    found = facts.aggregate(day=Min("lawful_day"), minutes=Min("lawful_minutes"))
    return _lawful(found["day"], found["minutes"])


def _lawful(day: int | None, minutes: int | None) -> Lawful:
    return date.fromordinal(day) if day else None, None if minutes is None else max(0, minutes)
