"""Rows into the facts that trigger rules and the operating status are asked with. Decides nothing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from fleet.common.clock import now
from fleet.models import Aircraft
from fleet.selectors.aircraft import options_of
from fleet.selectors.meters import counters_now
from scheduling.gather.relief import used_up_now
from scheduling.models import OPEN_STATES, Event, Relief, Task, TaskCause, TriggerRule
from scheduling.status import ByWhen, Consequence, OpenItem, ReliefFacts
from scheduling.triggers.merge import Cause, ClosedFacts, OpenTaskFacts
from scheduling.triggers.rule_form import rule_from_data
from scheduling.triggers.terms import EventFacts, RuleFacts, TaskState


def event_facts(event: Event, options: frozenset[str] | None = None) -> EventFacts:
    """One event with everything a rule may ask about; its time in the zone of the aircraft's base."""
    aircraft = event.aircraft
    component = event.component_on or event.component_off
    kind = component.kind.code if component else event.position.kind.code if event.position else None
    return EventFacts(
        id=event.pk,
        kind=event.kind.code,
        at=event.at.astimezone(ZoneInfo(aircraft.base.zone)),
        aircraft=aircraft.registration,
        aircraft_type=aircraft.aircraft_type.code,
        position=event.position.code if event.position else None,
        component_type=kind,
        options=options_of(aircraft) if options is None else options,
        base=aircraft.base.code,
        name=event.kind.name,
        data=event.detail,
    )


def event_facts_of_all(events: QuerySet[Event]) -> list[EventFacts]:
    """Many events as facts in a constant number of queries; options are those the aircraft have today."""
    rows = events.select_related(
        "aircraft__base",
        "aircraft__aircraft_type",
        "kind",
        "position__kind",
        "component_on__kind",
        "component_off__kind",
    ).prefetch_related("aircraft__options")
    return [
        event_facts(event, frozenset(option.code for option in event.aircraft.options.all()))
        for event in rows
    ]


def rule_facts(rule: TriggerRule) -> RuleFacts:
    """One stored rule as the pure room reads it."""
    return rule_from_data(
        {
            **rule.content,
            "id": rule.pk,
            "code": rule.code,
            "version": rule.version,
            "event_kind": rule.event_kind.code,
            "enabled": rule.is_enabled,
        }
    )


def current_rules(operator_id: int) -> list[RuleFacts]:
    """Every rule in force at the operator."""
    rows = TriggerRule.objects.filter(operator_id=operator_id, is_current=True, is_enabled=True)
    return [rule_facts(rule) for rule in rows.select_related("event_kind")]


def open_task_facts(aircraft: Aircraft) -> list[OpenTaskFacts]:
    """The aircraft's open tasks that follow a procedure, with their causes and what they wait for."""
    tasks = aircraft.tasks.filter(state__in=OPEN_STATES, procedure__isnull=False).select_related("procedure")
    tasks = tasks.prefetch_related("causes", "waits__first")
    return [
        OpenTaskFacts(
            id=task.pk,
            procedure_code=task.procedure.code if task.procedure else "",
            aircraft=aircraft.registration,
            state=TaskState(task.state),
            raised_at=task.raised_at,
            started_at=task.started_at,
            causes=_causes(task.causes.all()),
            waits_for=frozenset(wait.first_id for wait in task.waits.all() if wait.first.is_open),
            scope=task.scope,
        )
        for task in tasks
    ]


def closed_task_facts(aircraft: Aircraft, codes: Iterable[str]) -> list[ClosedFacts]:
    """Closed and withdrawn tasks of these procedures: they may already have answered an event."""
    tasks = aircraft.tasks.filter(state__in=["closed", "withdrawn"], procedure__code__in=list(codes))
    return [
        ClosedFacts(
            procedure_code=task.procedure.code if task.procedure else "",
            aircraft=aircraft.registration,
            closed_at=task.closed_at or task.raised_at,
            started_at=task.started_at,
            causes=_causes(task.causes.all()),
            was_done=task.state == "closed",
            scope=task.scope,
        )
        for task in tasks.select_related("procedure").prefetch_related("causes")
    ]


def _causes(rows: Iterable[TaskCause]) -> frozenset[Cause]:
    return frozenset(Cause(row.event_id, row.rule_id) for row in rows if row.event_id and row.rule_id)


def open_items(aircraft_ids: Iterable[int]) -> dict[int, list[OpenItem]]:
    """What is open on several aircraft, for the operating status."""
    ids = list(aircraft_ids)
    counters = counters_now(ids)
    items: dict[int, list[OpenItem]] = {pk: [] for pk in ids}
    rows = Task.objects.filter(aircraft_id__in=ids, state__in=OPEN_STATES).select_related("aircraft__base")
    for task in rows:
        items[task.aircraft_id].append(
            OpenItem(
                task_id=task.pk,
                title=task.title,
                consequence=Consequence(task.consequence),
                state=TaskState(task.state),
                by_when=ByWhen(task.before),
                is_defect=task.is_defect,
                is_past_limit=_is_past(task, counters[task.aircraft_id].minutes),
            )
        )
    return items


def _is_past(task: Task, minutes: int) -> bool:
    today = now().astimezone(ZoneInfo(task.aircraft.base.zone)).date()
    late_by_day = task.latest_day is not None and today > task.latest_day
    return late_by_day or (task.latest_minutes is not None and minutes > task.latest_minutes)


def relief_facts(aircraft_ids: Iterable[int]) -> Mapping[int, list[ReliefFacts]]:
    """Relief not closed, by aircraft; times in the operator's own zone."""
    ids = list(aircraft_ids)
    found: dict[int, list[ReliefFacts]] = {pk: [] for pk in ids}
    related = ("aircraft__operator", "category")
    rows = list(Relief.objects.filter(aircraft_id__in=ids, closed_at=None).select_related(*related))
    used_up = used_up_now(rows)
    for relief in rows:
        zone = ZoneInfo(relief.aircraft.operator.day_zone)
        ends_at = relief.ends_at or used_up.get(relief.pk)
        found[relief.aircraft_id].append(
            ReliefFacts(
                id=relief.pk,
                item=relief.item,
                covers=Consequence(relief.covers),
                recorded_at=relief.recorded_at.astimezone(zone),
                ends_at=ends_at.astimezone(zone) if ends_at else None,
                restriction=relief.restriction,
            )
        )
    return found
