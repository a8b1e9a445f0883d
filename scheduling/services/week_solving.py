"""Working out the weeks that were asked for: claimed by conditional update, solved, stored as a draft."""

from __future__ import annotations

import logging
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q

from fleet.common.actor import system_actor
from fleet.common.clock import now
from fleet.services.trail import note
from scheduling.gather.plan import WeekFacts, week_facts
from scheduling.models import Slot, WeekPlan
from scheduling.planner import problem as planner
from scheduling.planner.problem import BadProblem
from scheduling.planner.solve import PinsConflict, solve

CLAIM_SECONDS = 600
GIVE_UP_SECONDS = 3 * CLAIM_SECONDS
USUAL_SECONDS = 20.0
logger = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Claim:
    """A week in this worker's hands; `claimed_at` is the proof of it."""

    plan_id: int
    claimed_at: datetime


def solve_asked(*, seconds: float | None = None) -> int:
    """Claim and work out every week that was asked for, one after the other; returns how many were stored."""
    count = 0
    while (claim := claim_week()) is not None:
        count += solve_claimed(claim, seconds=seconds)
    return count


def claim_week() -> Claim | None:
    """Take the oldest week asked for, or one whose worker did not come back. Two workers never hold the same."""
    moment = now()
    _give_up(moment)
    lost = Q(state=WeekPlan.State.SOLVING, claimed_at__lt=moment - timedelta(seconds=CLAIM_SECONDS))
    free = WeekPlan.objects.filter(Q(state=WeekPlan.State.ASKED) | lost)
    for pk in free.order_by("asked_at", "id").values_list("pk", flat=True)[:10]:
        if free.filter(pk=pk).update(state=WeekPlan.State.SOLVING, claimed_at=moment):
            return Claim(pk, moment)
    return None


def _give_up(moment: datetime) -> None:
    """Weeks asked for long ago whose worker ended again and again: they would end the next one, too."""
    lost = WeekPlan.objects.filter(
        state=WeekPlan.State.SOLVING,
        claimed_at__lt=moment - timedelta(seconds=CLAIM_SECONDS),
        asked_at__lt=moment - timedelta(seconds=GIVE_UP_SECONDS),
    )
    for pk, claimed_at in lost.values_list("pk", "claimed_at"):
        if claimed_at is not None:
            store_failure(Claim(pk, claimed_at), [_broke_off(pk, "the program stopped before it was done")])


def _broke_off(plan_id: int, cause: str) -> str:
    return (
        f"The planner broke off: {cause}. Nothing in the plan was changed. If planning the week again breaks off once "
        f"more, tell whoever runs the system, who finds more in its log under week plan {plan_id}."
    )


def solve_claimed(claim: Claim, *, seconds: float | None = None) -> bool:
    """Work a claimed week out and store it, outside any transaction; false if the claim was lost meanwhile."""
    plan = WeekPlan.objects.select_related("base__operator").get(pk=claim.plan_id)
    limit = seconds if seconds is not None else getattr(settings, "PLANNER_SECONDS", USUAL_SECONDS)
    try:
        facts = week_facts(plan.base, plan.monday, plan)
        return store_week(claim, facts, solve(facts.problem, limit))
    except BadProblem as wrong:
        reasons = [f"{one.field}: {one.detail}; {one.remedy}" for one in wrong.mistakes]
        return store_failure(claim, reasons)
    except PinsConflict as conflict:
        reasons = [f"A slot moved by hand cannot stand: {one.words}" for one in conflict.violations]
        return store_failure(claim, reasons)
    except Exception as error:  # whatever it was, the week may not stay "being worked out"
        logger.exception("week plan %s broke off", claim.plan_id)
        cause = f"a fault in the system ({type(error).__name__})"
        return store_failure(claim, [_broke_off(claim.plan_id, cause)])


@transaction.atomic
def store_week(claim: Claim, facts: WeekFacts, found: planner.Plan) -> bool:
    """Keep what was found as a draft, with the reasons of what found no place."""
    plan = _still_mine(claim)
    if plan is None:
        return False
    pinned = {slot.job_id for slot in facts.problem.pinned}
    plan.slots.exclude(is_pinned=True).delete()
    kept = set(plan.slots.values_list("task_id", flat=True))
    for slot in found.slots:
        task = facts.tasks[str(slot.job_id)]
        if slot.job_id in pinned and task.pk in kept:
            plan.slots.get(task=task).equipment.set(int(one) for one in slot.equipment)
        else:
            store_slot(plan, facts, slot)
    plan.outcome = {
        "cost": found.cost,
        "bound": found.bound,
        "is_optimal": found.is_optimal,
        "unplaced": [_unplaced(facts, one) for one in found.unplaced],
    }
    _become(plan, WeekPlan.State.DRAFT)
    return True


def store_slot(plan: WeekPlan, facts: WeekFacts, slot: planner.Slot, *, is_pinned: bool = False) -> Slot:
    """One slot of the planner as a row."""
    row = Slot.objects.create(
        plan=plan,
        task=facts.tasks[str(slot.job_id)],
        bay=facts.bays[str(slot.bay)] if slot.bay is not None else None,
        starts_at=facts.clock.moment(slot.start),
        ends_at=facts.clock.moment(slot.end),
        is_pinned=is_pinned,
    )
    row.people.set(int(one) for one in slot.people)
    row.equipment.set(int(one) for one in slot.equipment)
    return row


def _unplaced(facts: WeekFacts, one: planner.Unplaced) -> dict[str, Any]:
    task = facts.tasks[str(one.job_id)]
    return {
        "task": task.pk,
        "title": task.title,
        "aircraft": task.aircraft.registration,
        "reasons": list(one.reasons),
    }


@transaction.atomic
def store_failure(claim: Claim, reasons: list[str]) -> bool:
    """The week could not be worked out: say why; a draft with slots stays a draft."""
    plan = _still_mine(claim)
    if plan is None:
        return False
    plan.outcome = {**plan.outcome, "problems": reasons}
    _become(plan, WeekPlan.State.DRAFT if plan.slots.exists() else WeekPlan.State.FAILED)
    return True


def _still_mine(claim: Claim) -> WeekPlan | None:
    rows = WeekPlan.objects.select_for_update(of=("self",)).select_related("base")
    return rows.filter(pk=claim.plan_id, state=WeekPlan.State.SOLVING, claimed_at=claim.claimed_at).first()


def _become(plan: WeekPlan, state: WeekPlan.State) -> None:
    WeekPlan.objects.filter(pk=plan.pk).update(
        state=state, solved_at=now(), claimed_at=None, outcome=plan.outcome, version=F("version") + 1
    )
    actor = system_actor(plan.operator_id, "week planner")
    note(actor, "store_week", "week-plan", plan.pk, f"Week worked out: {plan}, {state.label}")
