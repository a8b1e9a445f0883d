"""The life status of a component: limit, accumulated and remaining in every limited parameter."""

from __future__ import annotations

from datetime import datetime

from fleet.life import Limit, Parameter, Remaining, life_status
from fleet.models import Component, LifeLimit
from fleet.selectors.meters import component_times


def life_of(component: Component, at: datetime) -> tuple[Remaining, ...]:
    """How much of its life is used; limits of its part number go before those of its kind."""
    rows = LifeLimit.objects.filter(kind_id=component.kind_id, part_number__in=("", component.part_number))
    chosen = {row.parameter: row for row in rows.order_by("part_number")}
    if not chosen:
        return ()
    totals = component_times(component, at).since_new
    counted = {
        Parameter.MINUTES: totals.minutes,
        Parameter.LANDINGS: totals.landings,
        Parameter.CYCLES: totals.cycles,
    }
    limits = [Limit(Parameter(row.parameter), row.limit, row.source) for row in chosen.values()]
    return life_status(limits, counted, component.manufactured_on, at.date())
