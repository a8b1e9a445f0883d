"""An event changed the configuration, or is what a limit counts from: the due list follows in the same transaction."""

from __future__ import annotations

from fleet.models import Component
from scheduling.models import Applicability, Event, Requirement
from scheduling.services.applicability import subjects_of
from scheduling.services.due_facts import reckon_aircraft


def follow_event(event: Event) -> int:
    """Put the programme on a component that was fitted, and reckon the aircraft where the event matters to it."""
    if event.component_on is not None:
        put_programme_on(event.component_on)
    counts_from_it = Requirement.objects.filter(event_kind_id=event.kind_id, is_current=True, retired_on=None)
    if event.component_on_id or event.component_off_id or counts_from_it.exists():
        return reckon_aircraft([event.aircraft_id])
    return 0


def put_programme_on(component: Component) -> int:
    """Every line about this kind of component applies to it from now on; how many are new."""
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
    Applicability.objects.bulk_create(fresh)
    return len(fresh)
