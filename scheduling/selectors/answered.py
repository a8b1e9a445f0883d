"""Which due items a task answers."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q, QuerySet

from fleet.models import Installation
from scheduling.models import Applicability, Task


def answered_by(task: Task, at: datetime) -> QuerySet[Applicability]:
    """The due items a task's work answers."""
    wanted = Q(pk=task.applicability_id) if task.applicability_id else Q(pk__in=[])
    if task.procedure_id is not None:
        wanted |= Q(requirement__procedure_id=task.procedure_id) & _place(task, at)
    return Applicability.objects.filter(wanted, is_active=True)


def _place(task: Task, at: datetime) -> Q:
    own = task.applicability
    component_id = task.component_id or (own.component_id if own else None)
    if component_id is not None:
        return Q(component_id=component_id)
    there = Q(fitted_at__lte=at) & (Q(removed_at=None) | Q(removed_at__gt=at))
    fitted = Installation.objects.filter(there, aircraft_id=task.aircraft_id)
    on_aircraft = Q(component=None, aircraft_id=task.aircraft_id)
    if task.position_id is not None:
        fitted = fitted.filter(position_id=task.position_id)
        on_aircraft &= Q(position=None) | Q(position_id=task.position_id)
    return on_aircraft | Q(component_id__in=list(fitted.values_list("component_id", flat=True)))
