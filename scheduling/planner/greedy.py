"""The serial schedule: one job after the other at its cheapest possible start.

Pure. Milliseconds where the solver takes seconds; its best pass is where the solver begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from random import Random

from scheduling.planner.board import Board, Index
from scheduling.planner.check import cost_of
from scheduling.planner.problem import SLOTS_PER_DAY, Id, Job, Slot, Window
from scheduling.planner.timeline import first


@dataclass(frozen=True, slots=True)
class Option:
    """One way to place a job: its price, ground time and start."""

    price: int
    start: int
    window: Window


def greedy(facts: Index, order: Sequence[Job], keep: Sequence[Slot] = ()) -> tuple[Slot, ...]:
    """Place jobs in this order round slots that are kept; what finds no start stays out.

    Example: two one-hour jobs for one person on shift from 08:00 stand at 08:00 and 09:00.
    """
    board = Board(facts)
    for slot in (*facts.pinned.values(), *keep):
        window = facts.window_at(facts.jobs[slot.job_id], slot.start)
        if window is not None and slot.job_id not in board.slots:
            board.put(slot, window)
    insert(board, order)
    return tuple(board.slots.values())


def insert(board: Board, order: Sequence[Job]) -> None:
    """Place every job of the order that is not on the board yet, where it can be, at its cheapest start."""
    for job in order:
        if job.id not in board.slots:
            option = cheapest(board, job)
            if option is not None and option.price < job.drop_cost:
                board.place(job, option.window, option.start)


def cheapest(board: Board, job: Job) -> Option | None:
    """The cheapest way to place a job on the board as it is, or None."""
    options = [
        option for window in board.facts.windows[job.aircraft] for option in _options(board, job, window)
    ]
    return min(options, key=lambda option: (option.price, option.start), default=None)


def priority_order(facts: Index, random: Random | None = None) -> list[Job]:
    """Jobs by urgency, each after all it waits for; `random` shakes the urgency for another try."""
    latest: dict[Id, int] = {}
    jobs = sorted(facts.problem.jobs, key=lambda job: _urgency(facts, job, latest, random))
    ordered: dict[Id, Job] = {}
    for job in jobs:
        _with_what_comes_first(facts, job, ordered)
    return list(ordered.values())


def best_of(facts: Index, passes: int, random: Random) -> tuple[Slot, ...]:
    """The cheapest of several passes, the first of them by plain urgency."""
    best = greedy(facts, priority_order(facts))
    price = cost_of(facts.problem, best)
    for _ in range(passes - 1):
        slots = greedy(facts, priority_order(facts, random))
        found = cost_of(facts.problem, slots)
        if found < price:
            best, price = slots, found
    return best


def _options(board: Board, job: Job, window: Window) -> list[Option]:
    """The first possible start of a ground time, and the published one if it is possible."""
    possible = board.possible_starts(job, window)
    published = board.facts.published.get(job.id)
    moments = [first(possible)]
    if published is not None and possible >> published.start & 1:
        moments.append(published.start)
    return [
        Option(_price(board, job, window, moment, published), moment, window)
        for moment in moments
        if moment is not None
    ]


def _price(board: Board, job: Job, window: Window, start: int, published: Slot | None) -> int:
    late = max(0, start + job.duration - job.due_soft) if job.due_soft is not None else 0
    moved = published is not None and published.start != start
    visit = job.needs_bay and window not in board.visits
    costs = board.facts.problem.costs
    return job.late_cost * late + costs.move * moved + costs.visit * visit


def _urgency(facts: Index, job: Job, latest: dict[Id, int], random: Random | None) -> tuple[float, int, str]:
    """The slot by which it should end, shaken by up to a day; the dearer first where they are equal."""
    shake = random.uniform(-SLOTS_PER_DAY, SLOTS_PER_DAY) if random else 0.0
    return (_latest_end(facts, job, latest) + shake, -job.drop_cost, str(job.id))


def _latest_end(facts: Index, job: Job, known: dict[Id, int]) -> int:
    """The end its own due and everything that waits for it ask for."""
    if job.id not in known:
        dues = [facts.problem.horizon, *(due for due in (job.due_hard, job.due_soft) if due is not None)]
        followers = (facts.jobs[identity] for identity in facts.followers[job.id])
        dues += [_latest_end(facts, follower, known) - follower.duration for follower in followers]
        known[job.id] = min(dues)
    return known[job.id]


def _with_what_comes_first(facts: Index, job: Job, ordered: dict[Id, Job]) -> None:
    if job.id in ordered:
        return
    for identity in job.after:
        _with_what_comes_first(facts, facts.jobs[identity], ordered)
    ordered[job.id] = job
