"""Week plans asked for, taken up again, published and thrown away."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from django.db import IntegrityError, transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day, now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason, Stale
from fleet.models import Base
from fleet.services.trail import note
from scheduling.gather.plan import BEGUN, WeekFacts, job_name, slots_of_plan, week_facts
from scheduling.models import Slot, Task, TaskState, WeekPlan
from scheduling.planner.check import Violation, check
from scheduling.services.week_solving import solve_asked

__all__ = ["ask_for_week", "discard_draft", "open_draft", "publish_week", "solve_asked"]

IN_HAND = (WeekPlan.State.ASKED, WeekPlan.State.SOLVING, WeekPlan.State.DRAFT)
WEEKS_AHEAD = 12


@transaction.atomic
def ask_for_week(*, actor: Actor, base_id: int, monday: date) -> WeekPlan:
    """Ask for a week at a base to be planned; a job works it out. Slots moved by hand stay where they are.

    A draft in hand is planned anew; a published plan stays in force until the new one is published. Refuses a
    day that is no Monday, a week that is over, and one more than twelve weeks off.
    """
    require(actor, Verb.PLAN)
    base = base_for(actor, base_id)
    _check_monday(base, monday)
    plan = _in_hand(base, monday)
    if plan is None:
        plan = _new_plan(actor, base, monday, WeekPlan.State.ASKED)
        _copy_slots(_published(base, monday), plan, pinned_only=True)
    elif plan.state == WeekPlan.State.DRAFT:
        plan.state = WeekPlan.State.ASKED
        plan.asked_at, plan.asked_by_id, plan.claimed_at = now(), actor.user_id, None
        _save(plan)
    note(actor, "ask_for_week", "week-plan", plan.pk, f"Week plan asked for: {base} {monday}")
    return plan


@transaction.atomic
def open_draft(*, actor: Actor, base_id: int, monday: date) -> WeekPlan:
    """A draft to change by hand: the one in hand, or a copy of the published plan, or an empty one."""
    require(actor, Verb.PLAN)
    base = base_for(actor, base_id)
    _check_monday(base, monday)
    plan = _in_hand(base, monday)
    if plan is None:
        plan = _new_plan(actor, base, monday, WeekPlan.State.DRAFT)
        published = _published(base, monday)
        _copy_slots(published, plan)
        plan.outcome = {"unplaced": published.outcome.get("unplaced", []) if published else []}
        _save(plan)
        note(actor, "open_draft", "week-plan", plan.pk, f"Draft opened: {base} {monday}")
    elif plan.state != WeekPlan.State.DRAFT:
        raise Conflict("plan_being_solved", "This week is being worked out; wait for the draft.")
    return plan


@transaction.atomic
def discard_draft(*, actor: Actor, plan_id: int) -> None:
    """Throw a draft away. What is published stays."""
    require(actor, Verb.PLAN)
    plan = lock_plan(actor, plan_id)
    if plan.state not in (*IN_HAND, WeekPlan.State.FAILED):
        raise Conflict(
            "not_a_draft", f"This plan is {plan.get_state_display()}; only a draft is thrown away."
        )
    note(actor, "discard_draft", "week-plan", plan.pk, f"Draft thrown away: {plan}")
    plan.delete()


@transaction.atomic
def publish_week(*, actor: Actor, plan_id: int, version: int | None = None) -> WeekPlan:
    """Put a draft in force: its tasks become planned and are given to whoever leads them.

    Refuses a draft that can no longer be worked as it stands, saying why, and one that changed since it was
    read. The plan it replaces is kept; work already begun keeps its slot.
    """
    require(actor, Verb.PLAN)
    plan = lock_plan(actor, plan_id)
    must_be_draft(plan)
    if version is not None and version != plan.version:
        raise Stale("changed_meanwhile", "This draft was changed after you read it; look at it again.")
    facts = week_facts(plan.base, plan.monday, plan)
    plan.slots.exclude(task_id__in=[task.pk for task in facts.tasks.values()]).delete()
    refuse_violations(check(facts.problem, slots_of_plan(plan, facts)))
    if not plan.slots.exists():
        raise Conflict("nothing_planned", "This draft places no work; there is nothing to publish.")
    before = _published(plan.base, plan.monday)
    if before is not None:
        before.state = WeekPlan.State.REPLACED
        _save(before)
    plan.state = WeekPlan.State.PUBLISHED
    plan.published_at, plan.published_by_id = now(), actor.user_id
    _save(plan)
    _give_out(actor, plan, facts)
    _take_back(actor, before, plan)
    words = f"Week plan published: {plan}, {plan.slots.count()} tasks"
    note(actor, "publish_week", "week-plan", plan.pk, words)
    return plan


def _give_out(actor: Actor, plan: WeekPlan, facts: WeekFacts) -> None:
    """Every placed task is planned and belongs to somebody on it who is authorised for it."""
    skills = {person.id: person.skills for person in facts.problem.people}
    wanted = {job.id: job.skills for job in facts.problem.jobs}
    for slot in plan.slots.select_related("task").prefetch_related("people"):
        task, people = slot.task, sorted(person.pk for person in slot.people.all())
        leads = [one for one in people if wanted[job_name(task.pk)] <= skills.get(one, frozenset())]
        lead = task.assigned_to_id if task.assigned_to_id in people else next(iter(leads), None)
        if task.state == TaskState.PLANNED and task.assigned_to_id == lead:
            continue
        _plan_task(task, TaskState.PLANNED, lead)
        note(actor, "plan_task", "task", task.pk, f"{task.title} planned: {plan}")


def _take_back(actor: Actor, before: WeekPlan | None, plan: WeekPlan) -> None:
    """What the old plan held: work begun or done keeps its slot, the rest is open again if it has none now."""
    if before is None:
        return
    placed = set(plan.slots.values_list("task_id", flat=True))
    for slot in before.slots.select_related("task").exclude(task_id__in=placed):
        task = slot.task
        if task.state in (*BEGUN, TaskState.CLOSED):
            _copy_slot(slot, plan, is_pinned=True)
        elif task.state == TaskState.PLANNED:
            _plan_task(task, TaskState.RAISED, None)
            note(actor, "unplan_task", "task", task.pk, f"{task.title} no longer planned: {plan}")


def _plan_task(task: Task, state: TaskState, person_id: int | None) -> None:
    task.state, task.assigned_to_id = state, person_id
    task.version += 1
    task.save(update_fields=["state", "assigned_to", "version"])


def refuse_violations(violations: Iterable[Violation]) -> None:
    """Refuse (`plan_cannot_stand`) with every broken rule in words."""
    words = list(dict.fromkeys(one.words for one in violations))
    if words:
        *first, last = words
        remedy = Reason(last, remedy="move the work, or plan the week again")
        sentence = "The plan cannot be worked as it stands."
        raise Conflict("plan_cannot_stand", sentence, *map(Reason, first), remedy)


def must_be_draft(plan: WeekPlan) -> None:
    """Only a draft is changed or published."""
    if plan.state != WeekPlan.State.DRAFT:
        raise Conflict("not_a_draft", f"This plan is {plan.get_state_display()}; open a draft to change it.")


def lock_plan(actor: Actor, plan_id: int) -> WeekPlan:
    """The plan, locked; a stranger's is not found."""
    plan = (
        WeekPlan.objects.select_for_update(of=("self",))
        .filter(pk=plan_id, operator_id=actor.operator_id)
        .select_related("base__operator")
        .first()
    )
    if plan is None:
        raise NotFound("plan_not_found", "There is no such week plan here.")
    return plan


def base_for(actor: Actor, base_id: int) -> Base:
    """One base of the operator; a stranger's is not found."""
    base = Base.objects.filter(pk=base_id, operator_id=actor.operator_id).select_related("operator").first()
    if base is None:
        raise NotFound("base_not_found", "There is no such base here.")
    return base


def _check_monday(base: Base, monday: date) -> None:
    today = local_day(base.zone)
    this_week = today - timedelta(days=today.weekday())
    written = monday.isoformat()
    if monday.weekday() != 0:
        reason = Reason("is no Monday", "monday", written, "name the Monday the week begins with")
    elif monday < this_week:
        reason = Reason("is over", "monday", written, "plan this week or a later one")
    elif monday > this_week + timedelta(weeks=WEEKS_AHEAD):
        reason = Reason("is too far off", "monday", written, f"plan at most {WEEKS_AHEAD} weeks ahead")
    else:
        return
    raise Invalid("bad_week", "This week cannot be planned.", reason)


def _in_hand(base: Base, monday: date) -> WeekPlan | None:
    rows = WeekPlan.objects.select_for_update(of=("self",)).filter(base=base, monday=monday)
    return rows.filter(state__in=IN_HAND).first()


def _published(base: Base, monday: date) -> WeekPlan | None:
    rows = WeekPlan.objects.select_for_update(of=("self",)).filter(base=base, monday=monday)
    return rows.filter(state=WeekPlan.State.PUBLISHED).first()


def _new_plan(actor: Actor, base: Base, monday: date, state: WeekPlan.State) -> WeekPlan:
    try:
        with transaction.atomic():
            return WeekPlan.objects.create(
                operator_id=actor.operator_id,
                base=base,
                monday=monday,
                state=state,
                asked_by_id=actor.user_id,
                asked_at=now(),
            )
    except IntegrityError as error:
        raise Conflict("asked_already", "Somebody asked for this week in the same moment.") from error


def _copy_slots(source: WeekPlan | None, target: WeekPlan, *, pinned_only: bool = False) -> None:
    if source is None:
        return
    rows = source.slots.filter(task__state__in=[TaskState.RAISED, TaskState.PLANNED])
    for slot in rows.filter(is_pinned=True) if pinned_only else rows:
        _copy_slot(slot, target, is_pinned=slot.is_pinned)


def _copy_slot(slot: Slot, target: WeekPlan, *, is_pinned: bool) -> None:
    values: Mapping[str, object] = {
        "task_id": slot.task_id,
        "bay_id": slot.bay_id,
        "starts_at": slot.starts_at,
        "ends_at": slot.ends_at,
    }
    copy = Slot.objects.create(plan=target, is_pinned=is_pinned, **values)
    copy.people.set(slot.people.all())
    copy.equipment.set(slot.equipment.all())


def _save(plan: WeekPlan) -> None:
    plan.version += 1
    plan.save()
