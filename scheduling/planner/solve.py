"""Planning a week: a serial schedule first, then the solver, on all of it or on a few aircraft at a time.

Every plan that leaves this room has passed the checker.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import ceil
from random import Random
from time import monotonic

from ortools.sat.python.cp_model import FEASIBLE, OPTIMAL, CpSolver

from scheduling.planner.board import Index, board_of, index
from scheduling.planner.check import Rule, Violation, check, cost_of
from scheduling.planner.explain import unplaced_ids, why_unplaced
from scheduling.planner.greedy import best_of, insert, priority_order
from scheduling.planner.model import WeekModel, build
from scheduling.planner.problem import BadProblem, Id, Plan, Problem, Slot, Unplaced, mistakes
from scheduling.planner.translate import hint, slots_from
from scheduling.planner.units import give_out_units

WHOLE_WEEK_JOBS = 100
GREEDY_PASSES = 8
STEP_SECONDS = 1.5
BOUND_SHARE = 0.1
UNITS_PER_RUN = 0.01
FEWEST_AIRCRAFT, MOST_AIRCRAFT = 3, 12


class PinsConflict(ValueError):
    """The pinned slots cannot all stand; `violations` say why."""

    def __init__(self, violations: tuple[Violation, ...]) -> None:
        super().__init__(" ".join(violation.words for violation in violations))
        self.violations = violations


class UnsoundPlan(RuntimeError):
    """The solver's plan failed the checker: a fault in the model, never shown as a plan."""


@dataclass(slots=True)
class Effort:
    """How long may be thought. Deterministic effort is counted by the solver, plus a little for every run."""

    seconds: float
    seed: int
    workers: int
    deterministic: bool
    spent: float = 0.0
    began: float = 0.0

    def left(self) -> float:
        """Seconds, or deterministic units, still to be spent."""
        return self.seconds - (self.spent if self.deterministic else monotonic() - self.began)

    def run(self, week: WeekModel, limit: float) -> CpSolver | None:
        """Let the solver think for up to `limit`; None if it found no plan."""
        solver = CpSolver()
        limit = max(0.01, min(limit, self.left()))
        solver.parameters.random_seed = self.seed
        solver.parameters.num_workers = 1 if self.deterministic else self.workers
        if self.deterministic:
            solver.parameters.max_deterministic_time = limit
        else:
            solver.parameters.max_time_in_seconds = limit
        status = solver.solve(week.model)
        self.spent += UNITS_PER_RUN + solver.response_proto.deterministic_time
        return solver if status in (OPTIMAL, FEASIBLE) else None


@dataclass(frozen=True, slots=True)
class Found:
    """A plan in the making: its slots, cost and the best proven lower limit."""

    slots: tuple[Slot, ...]
    cost: int
    bound: int = 0


def solve(
    problem: Problem, seconds: float, *, seed: int = 0, workers: int = 2, deterministic: bool = False
) -> Plan:
    """Plan a week in about so many seconds; what finds no place comes back with reasons in words.

    Refuses facts that make no sense (`BadProblem`) and pins that cannot all stand (`PinsConflict`). With
    `deterministic` the same week and seed give the same plan on one worker; `seconds` then counts the solver's
    own units of work. Example: two jobs and one person give two slots, one after the other, and cost 40 for the
    one visit.
    """
    wrong = mistakes(problem)
    if wrong:
        raise BadProblem(wrong)
    refused = pin_conflicts(problem)
    if refused:
        raise PinsConflict(refused)
    facts = index(problem)
    effort = Effort(seconds, seed, workers, deterministic, began=monotonic())
    random = Random(seed)  # noqa: S311 - shuffles a search, guards nothing
    slots = best_of(facts, GREEDY_PASSES, random)
    found = Found(slots, cost_of(problem, slots))
    aircraft = [name for name, jobs in facts.of_aircraft.items() if jobs]
    if len(problem.jobs) <= WHOLE_WEEK_JOBS or len(aircraft) == 1:
        found = improve_whole(facts, found, effort)
    else:
        found = replace(found, bound=bound_of_each_aircraft(facts, effort))
        found = improve_by_parts(facts, found, effort, random)
    return _finished(facts, found)


def pin_conflicts(problem: Problem) -> tuple[Violation, ...]:
    """What is wrong with the pinned slots taken by themselves; their units do not matter yet."""
    ignored = (Rule.EQUIPMENT_COUNT, Rule.EQUIPMENT_AWAY, Rule.EQUIPMENT_TWICE)
    pinned = {slot.job_id for slot in problem.pinned}
    return tuple(
        violation
        for violation in check(problem, [replace(slot, equipment=()) for slot in problem.pinned])
        if violation.rule not in ignored
        and not (violation.rule is Rule.ORDER and set(violation.jobs) - pinned)
    )


def improve_whole(facts: Index, found: Found, effort: Effort) -> Found:
    """One model of the whole week, begun from the plan found so far."""
    week = build(facts, facts.problem.jobs, ceiling=found.cost)
    hint(week, found.slots)
    solver = effort.run(week, effort.left())
    if solver is None:
        return found
    bound = max(found.bound, ceil(solver.best_objective_bound - 1e-6))
    slots = give_out_units(facts, slots_from(week, solver.value))
    better = _better(facts, found, slots)
    return replace(better, bound=min(bound, better.cost))


def bound_of_each_aircraft(facts: Index, effort: Effort) -> int:
    """A lower limit of the cost: every aircraft planned as if it had the bays, people and equipment to itself."""
    total, share = 0.0, effort.seconds * BOUND_SHARE
    enough = effort.left() - share
    for jobs in facts.of_aircraft.values():
        if effort.left() <= enough:
            break
        solver = effort.run(build(facts, jobs), share / 4)
        total += ceil(solver.best_objective_bound - 1e-6) if solver else 0
    return int(total)


def improve_by_parts(facts: Index, found: Found, effort: Effort, random: Random) -> Found:
    """Free a few aircraft, plan them anew round all others, keep what is not dearer; again and again."""
    size = FEWEST_AIRCRAFT + 1
    while effort.left() > 0 and found.cost > found.bound:
        free = choose_aircraft(facts, found.slots, size, random)
        jobs = [job for name in free for job in facts.of_aircraft[name]]
        kept = [slot for slot in found.slots if facts.jobs[slot.job_id].aircraft not in free]
        prices = aircraft_costs(facts, found.slots)
        week = build(facts, jobs, kept, ceiling=sum(prices[name] for name in free))
        hint(week, [slot for slot in found.slots if facts.jobs[slot.job_id].aircraft in free])
        effort.seed += 1
        solver = effort.run(week, STEP_SECONDS)
        if solver is not None:
            found = _better(facts, found, give_out_units(facts, [*kept, *slots_from(week, solver.value)]))
        done = solver is not None and solver.response_proto.status == OPTIMAL
        size = min(size + 1, MOST_AIRCRAFT) if done else max(size - 1, FEWEST_AIRCRAFT)
    return found


def choose_aircraft(facts: Index, slots: Sequence[Slot], size: int, random: Random) -> set[Id]:
    """One aircraft, the dearer the likelier, and others that stand at the same base at the same time."""
    prices = aircraft_costs(facts, slots)
    names = list(prices)
    centre = random.choices(names, [price + 1 for price in prices.values()])[0]
    near = [name for name in names if name != centre and _meet(facts, centre, name)]
    random.shuffle(near)
    near.sort(key=lambda name: -prices[name] * random.random())
    return {centre, *near[: size - 1]}


def aircraft_costs(facts: Index, slots: Sequence[Slot]) -> dict[Id, int]:
    """What each aircraft's jobs cost in a plan; the sum is the cost of the plan."""
    of_aircraft: dict[Id, list[Slot]] = {name: [] for name in facts.of_aircraft}
    for slot in slots:
        of_aircraft[facts.jobs[slot.job_id].aircraft].append(slot)
    return {name: cost_of(_only(facts, name), own) for name, own in of_aircraft.items()}


def _only(facts: Index, aircraft: Id) -> Problem:
    jobs, windows = tuple(facts.of_aircraft[aircraft]), tuple(facts.windows[aircraft])
    return replace(facts.problem, jobs=jobs, windows=windows)


def _meet(facts: Index, one: Id, other: Id) -> bool:
    return any(
        a.base == b.base and a.start < b.end and b.start < a.end
        for a in facts.windows[one]
        for b in facts.windows[other]
    )


def _better(facts: Index, found: Found, slots: tuple[Slot, ...]) -> Found:
    """The new slots unless they are dearer; equal ones are taken, so that the search does not stand still."""
    cost = sum(aircraft_costs(facts, slots).values())
    return replace(found, slots=slots, cost=cost) if cost <= found.cost else found


def _finished(facts: Index, found: Found) -> Plan:
    """Fill last gaps, give out units, explain what is left out, and have the checker agree."""
    slots = _filled(facts, found.slots)
    cost = cost_of(facts.problem, slots)
    violations = check(facts.problem, slots)
    if violations:
        raise UnsoundPlan(" ".join(violation.words for violation in violations))
    board = board_of(facts, slots)
    left_out = tuple(Unplaced(i, why_unplaced(board, facts.jobs[i])) for i in unplaced_ids(board))
    return Plan(slots, left_out, cost, found.bound, is_optimal=cost <= found.bound)


def _filled(facts: Index, slots: Iterable[Slot]) -> tuple[Slot, ...]:
    before = give_out_units(facts, slots)
    board = board_of(facts, before)
    insert(board, priority_order(facts))
    after = tuple(sorted(board.slots.values(), key=lambda slot: (slot.start, str(slot.job_id))))
    return after if cost_of(facts.problem, after) < cost_of(facts.problem, before) else before
