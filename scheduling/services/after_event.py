"""An event is what a limit counts from, or fitted a component: the due list follows in the same transaction.

What a changed configuration moves by itself is reckoned already when the event is written: the fleet tells.
"""

from __future__ import annotations

from django.db.models import Q

from fleet.models import Component, Installation
from scheduling.models import Applicability, Event, Requirement
from scheduling.services.applicability import subjects_of
from scheduling.services.due_facts import reckon_items


def follow_event(event: Event) -> int:
    """Put the programme on a component that was fitted, and reckon the items that count from such an event."""
    fresh: list[int] = []
    if event.component_on is not None:
        fresh = put_programme_on(event.component_on)
    sat_here = Installation.objects.filter(aircraft_id=event.aircraft_id).values("component_id")
    concerned = Q(aircraft_id=event.aircraft_id) | Q(component_id__in=sat_here)
    counting = Applicability.objects.filter(concerned, requirement__event_kind_id=event.kind_id)
    wanted = set(counting.values_list("pk", flat=True)).union(fresh)
    return reckon_items(Applicability.objects.filter(pk__in=wanted)) if wanted else 0


def put_programme_on(component: Component) -> list[int]:
    """Every line about this kind of component applies to it from now on; the keys of those that are new."""
    lines = Requirement.objects.filter(
        operator_id=component.operator_id,
        component_kind_id=component.kind_id,
        is_current=True,
        retired_on=None,
    )
    known = set(Applicability.objects.filter(component=component).values_list("code", flat=True))
    fresh = [
        Applicability(requirement=line, code=line.code, component=component)
        for line in lines
        if line.code not in known and subjects_of(line).filter(pk=component.pk).exists()
    ]
    return [row.pk for row in Applicability.objects.bulk_create(fresh)]
