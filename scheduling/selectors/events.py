"""Reads about events: what was reported, what it raised and why, and which rules came near."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, QuerySet

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from fleet.models import TrailEntry
from scheduling.gather.work import current_rules, event_facts
from scheduling.models import Event, EventKind, Task, TaskCause
from scheduling.triggers.match import near_misses


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one event led to: tasks it raised, open tasks it joined, and notes in words."""

    raised: tuple[Task, ...]
    joined: tuple[Task, ...]
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Story:
    """An event with everything it led to: each task with the words of why, and the rules that came near."""

    event: Event
    raised: tuple[tuple[Task, str], ...]
    joined: tuple[tuple[Task, str], ...]
    notes: tuple[str, ...]
    near_misses: tuple[str, ...]


def event_kinds(actor: Actor, *, retired: bool = False) -> QuerySet[EventKind]:
    """The operator's kinds of event in their order; retired ones only when asked for."""
    rows = EventKind.objects.filter(operator_id=actor.operator_id).order_by("order", "name", "id")
    return rows if retired else rows.filter(retired_on=None)


def reportable_kinds(actor: Actor) -> QuerySet[EventKind]:
    """The kinds that people report by hand."""
    return event_kinds(actor).filter(is_reported_by_people=True)


def event_kind_for(actor: Actor, code: str) -> EventKind:
    """One kind of event by its code; a stranger's is not found."""
    row = event_kinds(actor, retired=True).filter(code=code).first()
    if row is None:
        raise NotFound("event_kind_not_found", f"There is no kind of event {code} here.")
    return row


def events(actor: Actor) -> QuerySet[Event]:
    """The operator's events, newest first, each with how many tasks it led to (`task_count`)."""
    return (
        Event.objects.filter(aircraft__operator_id=actor.operator_id)
        .select_related("aircraft__base", "kind", "position", "component_off__kind", "component_on__kind")
        .annotate(task_count=Count("causes__task", distinct=True))
        .order_by("-at", "-id")
    )


def event_for(actor: Actor, event_id: int) -> Event:
    """One event; a stranger's is not found."""
    row = events(actor).filter(pk=event_id).first()
    if row is None:
        raise NotFound("event_not_found", "There is no such event here.")
    return row


def outcome_of(event: Event) -> Outcome:
    """The tasks an event raised and joined, in their order, and the notes made when it was reported."""
    causes = _causes(event)
    first = _first_causes(cause.task_id for cause in causes)
    raised = [cause.task for cause in causes if first[cause.task_id] == cause.pk]
    joined = [cause.task for cause in causes if first[cause.task_id] != cause.pk]
    kept_raised = tuple(dict.fromkeys(raised))
    return Outcome(
        kept_raised,
        tuple(task for task in dict.fromkeys(joined) if task not in kept_raised),
        _notes(event),
    )


def story_of(actor: Actor, event: Event) -> Story:
    """The whole story of one event, for its page."""
    outcome = outcome_of(event)
    words: dict[int, str] = {}
    for cause in _causes(event):
        words[cause.task_id] = f"{words.get(cause.task_id, '')} {cause.words}".strip()
    misses = near_misses(event_facts(event), current_rules(actor.operator_id))
    return Story(
        event=event,
        raised=tuple((task, words[task.pk]) for task in outcome.raised),
        joined=tuple((task, words[task.pk]) for task in outcome.joined),
        notes=outcome.notes,
        near_misses=tuple(miss.sentence() for miss in misses),
    )


def _causes(event: Event) -> list[TaskCause]:
    rows = event.causes.select_related("task__procedure", "task__assigned_to", "task__aircraft__base")
    return list(rows.order_by("order", "id"))


def _first_causes(task_ids: Iterable[int]) -> dict[int, int]:
    """The oldest cause of each task."""
    found: dict[int, int] = {}
    for pk, task_id in TaskCause.objects.filter(task_id__in=set(task_ids)).values_list("pk", "task_id"):
        found[task_id] = min(pk, found.get(task_id, pk))
    return found


def _notes(event: Event) -> tuple[str, ...]:
    line = TrailEntry.objects.filter(action="report_event", subject="event", subject_id=str(event.pk)).first()
    return tuple(line.detail.get("notes", ())) if line else ()
