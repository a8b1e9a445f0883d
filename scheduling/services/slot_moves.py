"""Moving work on a draft by hand: what was moved stays there, and what cannot stand is refused in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.db.models import F

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotFound, Reason
from fleet.services.trail import note
from scheduling.gather.plan import WeekFacts, job_name, slots_of_plan, week_facts
from scheduling.models import Slot, WeekPlan
from scheduling.planner import problem as planner
from scheduling.planner.board import ASK, Board, Need, board_of, index
from scheduling.planner.check import Rule, Violation, check
from scheduling.planner.problem import MINUTES_PER_SLOT, SLOTS_PER_WEEK, Window, moment_words
from scheduling.services.plans import lock_plan, must_be_draft
from scheduling.services.week_solving import store_slot

SHORT_WORDS = {
    Need.PEOPLE: "fewer than {people} people are on shift and free then",
    Need.SKILL: "nobody authorised for {skills} is on shift and free then",
    Need.EQUIPMENT: "{equipment} cannot be had then",
}
COUNTED_OTHERWISE = (Rule.PEOPLE_COUNT, Rule.SKILL, Rule.EQUIPMENT_COUNT, Rule.PIN)


@dataclass(frozen=True, slots=True)
class SlotMove:
    """Put a task of a draft at a moment into a bay (by name; empty keeps the bay, or lets one be found)."""

    plan_id: int
    task_id: int
    starts_at: datetime
    bay: str = ""


@transaction.atomic
def move_slot(*, actor: Actor, move: SlotMove) -> Slot:
    """Move a task, or place one that has no place yet; people and equipment are kept if they can be, else chosen.

    The slot is pinned: planning the week again leaves it there. Refuses (`slot_cannot_stand`) what breaks a rule
    that held before, saying which; nothing is moved then.
    """
    require(actor, Verb.PLAN)
    plan = lock_plan(actor, move.plan_id)
    must_be_draft(plan)
    facts = week_facts(plan.base, plan.monday, plan)
    job = next((one for one in facts.problem.jobs if one.id == job_name(move.task_id)), None)
    if job is None:
        raise NotFound("task_not_planned", "This task is not open work of this week.")
    before = slots_of_plan(plan, facts)
    wanted = _wanted(facts, job, before, move)
    others = [slot for slot in before if slot.job_id != job.id]
    _refuse_broken(facts, job, before, [*others, wanted])
    plan.slots.filter(task_id=move.task_id).delete()
    row = store_slot(plan, facts, wanted, is_pinned=True)
    _touch(plan, without=move.task_id)
    words = f"{job.title} to {moment_words(wanted.start)}, {wanted.bay or 'in the open'}"
    note(actor, "move_slot", "task", move.task_id, words)
    return row


@transaction.atomic
def unpin_slot(*, actor: Actor, plan_id: int, task_id: int) -> Slot:
    """Let the planner move a slot again that was moved by hand."""
    plan, row = _slot_of(actor, plan_id, task_id)
    row.is_pinned = False
    row.save(update_fields=["is_pinned"])
    _touch(plan)
    note(actor, "unpin_slot", "task", task_id, f"{row.task.title}: may be moved by the planner again")
    return row


@transaction.atomic
def take_out(*, actor: Actor, plan_id: int, task_id: int) -> None:
    """Take a task out of a draft; it stays open work. Refuses while a task that must follow it is placed."""
    plan, row = _slot_of(actor, plan_id, task_id)
    facts = week_facts(plan.base, plan.monday, plan)
    before = slots_of_plan(plan, facts)
    name = job_name(task_id)
    rest = [slot for slot in before if slot.job_id != name]
    _refuse_new(facts, before, rest)
    row.delete()
    _touch(plan)
    entry = {
        "task": task_id,
        "title": row.task.title,
        "aircraft": row.task.aircraft.registration,
        "reasons": [f"Taken out by {actor.name}."],
    }
    WeekPlan.objects.filter(pk=plan.pk).update(
        outcome={**plan.outcome, "unplaced": [*plan.outcome.get("unplaced", []), entry]}
    )
    note(actor, "take_out", "task", task_id, f"{row.task.title} taken out of {plan}")


def _slot_of(actor: Actor, plan_id: int, task_id: int) -> tuple[WeekPlan, Slot]:
    require(actor, Verb.PLAN)
    plan = lock_plan(actor, plan_id)
    must_be_draft(plan)
    row = plan.slots.filter(task_id=task_id).select_related("task__aircraft").first()
    if row is None:
        raise NotFound("slot_not_found", "This task has no slot in this draft.")
    return plan, row


def _wanted(
    facts: WeekFacts, job: planner.Job, before: Sequence[planner.Slot], move: SlotMove
) -> planner.Slot:
    """The slot as asked for, with people and equipment: those it had where they can stay, else others."""
    start = facts.clock.slot(move.starts_at)
    if not 0 <= start <= SLOTS_PER_WEEK - job.duration or facts.clock.moment(start) != move.starts_at:
        remedy = f"choose a quarter of an hour ({MINUTES_PER_SLOT} min) of this week"
        reason = Reason("is no start in this week", "starts_at", move.starts_at.isoformat(), remedy)
        raise Invalid("bad_start", "The work cannot start then.", reason)
    if move.bay and move.bay not in facts.bays:
        reason = Reason("is no bay of this base", "bay", move.bay, f"use one of {', '.join(facts.bays)}")
        raise Invalid("bad_bay", "The work cannot be done there.", reason)
    had = next((slot for slot in before if slot.job_id == job.id), None)
    bay = move.bay or (had.bay if had else None) or next(iter(facts.bays), None)
    people = had.people if had else ()
    units = had.equipment if had else ()
    asked = planner.Slot(job.id, start, start + job.duration, bay, people, units)
    board = board_of(
        index(replace(facts.problem, pinned=(), published=(asked,))),
        [slot for slot in before if slot.job_id != job.id],
    )
    window = board.facts.window_at(job, start)
    if window is None or not board.possible_starts(job, window) >> start & 1:
        return asked
    placed = board.place(job, window, start)
    return replace(placed, bay=move.bay) if move.bay else placed


def _refuse_broken(
    facts: WeekFacts, job: planner.Job, before: Sequence[planner.Slot], after: Sequence[planner.Slot]
) -> None:
    """Refuse what the move would break, and what it lacks at that time."""
    fresh = _new_violations(facts, before, after)
    if not fresh:
        return
    wanted = next(slot for slot in after if slot.job_id == job.id)
    words = [one.words for one in fresh if one.rule not in COUNTED_OTHERWISE]
    board = board_of(index(replace(facts.problem, pinned=())), [s for s in after if s.job_id != job.id])
    window = board.facts.window_at(job, wanted.start)
    if window is not None:
        words += _lacking(board, job, window, wanted.start)
    words = words or [one.words for one in fresh]
    _refuse(f"{job.title} cannot stand at {moment_words(wanted.start)}.", words)


def _lacking(board: Board, job: planner.Job, window: Window, start: int) -> list[str]:
    values = {
        "people": job.people,
        "skills": " and ".join(sorted(job.skills)),
        "equipment": ", ".join(f"{count} {kind}" for kind, count in job.equipment),
    }
    return [
        f"{job.title}: {words.format(**values)}."
        for need, words in SHORT_WORDS.items()
        if not ASK[need](board, job, window) >> start & 1
    ]


def _refuse_new(facts: WeekFacts, before: Sequence[planner.Slot], after: Sequence[planner.Slot]) -> None:
    fresh = _new_violations(facts, before, after)
    if fresh:
        _refuse("The rest of the plan cannot stand without it.", [one.words for one in fresh])


def _new_violations(
    facts: WeekFacts, before: Sequence[planner.Slot], after: Sequence[planner.Slot]
) -> list[Violation]:
    """Rules that hold now and would not any more; pins do not bind who moves by hand."""
    problem = facts.with_pins(())
    known = {(one.rule, one.words) for one in check(problem, before)}
    return [one for one in check(problem, after) if (one.rule, one.words) not in known]


def _refuse(sentence: str, words: Sequence[str]) -> None:
    *first, last = dict.fromkeys(words)
    remedy = Reason(last, remedy="choose another time, day or bay")
    raise Conflict("slot_cannot_stand", sentence, *map(Reason, first), remedy)


def _touch(plan: WeekPlan, without: int | None = None) -> None:
    """The draft has changed; a task that has a place now is not listed as without one."""
    left = [one for one in plan.outcome.get("unplaced", []) if one.get("task") != without]
    plan.outcome = {**plan.outcome, "unplaced": left, "changed_at": now().isoformat()}
    WeekPlan.objects.filter(pk=plan.pk).update(outcome=plan.outcome, version=F("version") + 1)
