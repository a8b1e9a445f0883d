"""What the controller expects an aircraft to fly: overrides the measured rate, day by day."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.errors import Invalid, NotFound, Reason
from fleet.models import Aircraft
from fleet.selectors.aircraft import aircraft_by_id
from fleet.services.trail import note
from scheduling.due.flying_plan import flying_plan
from scheduling.gather.use import planned_use
from scheduling.models import FlyingPlan
from scheduling.services.due_facts import reckon_aircraft

MOST_LANDINGS = 200


@dataclass(frozen=True, slots=True)
class NewPlan:
    """So many minutes and landings on every day from the first to the last, both counted."""

    aircraft_id: int
    from_day: date
    to_day: date
    minutes_per_day: int
    landings_per_day: Decimal
    note: str = ""


@transaction.atomic
def enter_plan(*, actor: Actor, plan: NewPlan) -> FlyingPlan:
    """Enter a stretch; refuses one that overlaps another, runs backwards, or holds more than a day's flying."""
    require(actor, Verb.PLAN)
    aircraft = aircraft_by_id(actor, plan.aircraft_id)
    Aircraft.objects.select_for_update(of=("self",)).get(pk=aircraft.pk)
    if not 0 <= plan.landings_per_day <= MOST_LANDINGS:
        reason = Reason(
            "is not a day's landings", "landings_per_day", str(plan.landings_per_day), "write 0 to 200"
        )
        raise Invalid("bad_flying_plan", reason.sentence(), reason)
    row = FlyingPlan(
        aircraft=aircraft,
        from_day=plan.from_day,
        to_day=plan.to_day,
        minutes_per_day=plan.minutes_per_day,
        landings_per_day=plan.landings_per_day,
        note=plan.note.strip()[:120],
        entered_by_id=actor.user_id,
    )
    flying_plan([*(planned_use(known) for known in aircraft.flying_plans.all()), planned_use(row)])
    row.save()
    words = f"Flying plan {row}: {plan.minutes_per_day} min and {plan.landings_per_day} landings a day"
    note(actor, "enter_flying_plan", "aircraft", aircraft.registration, words)
    reckon_aircraft([aircraft.pk])
    return row


@transaction.atomic
def remove_plan(*, actor: Actor, plan_id: int) -> None:
    """Take a stretch out again; the measured rate holds for those days."""
    require(actor, Verb.PLAN)
    row = FlyingPlan.objects.filter(pk=plan_id, aircraft__operator_id=actor.operator_id).first()
    if row is None:
        raise NotFound("flying_plan_not_found", "There is no such flying plan here.")
    aircraft = row.aircraft
    note(actor, "remove_flying_plan", "aircraft", aircraft.registration, f"Flying plan {row} removed")
    row.delete()
    reckon_aircraft([aircraft.pk])
