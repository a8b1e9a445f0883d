"""On weeks small enough to try everything, the solver finds the cheapest plan and proves it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations, product
from random import Random

import pytest

from scheduling.planner.check import check, cost_of
from scheduling.planner.problem import Bay, Equipment, Job, Person, Problem, Shift, Slot, Span, Window
from scheduling.planner.solve import solve


def tiny(seed: int) -> Problem:
    random = Random(seed)
    jobs = [
        Job(
            n,
            f"Job {n}",
            "A" if n < 2 else "B",
            random.randint(1, 3),
            people=random.choice((0, 1, 1, 2)),
            equipment=(("kit", 1),) if random.random() < 0.5 else (),
            needs_bay=random.random() < 0.8,
            alone=random.random() < 0.3,
            due_soft=random.choice((None, 2, 5)),
            due_hard=random.choice((None, None, 7)),
            late_cost=random.randint(1, 9),
            drop_cost=random.choice((20, 60)),
        )
        for n in range(3)
    ]
    if random.random() < 0.6:
        jobs[1] = replace(jobs[1], after=(0,), other_person_than=(0,) if random.random() < 0.5 else ())
    jobs = [replace(j, skills=frozenset({"x"})) if j.people and random.random() < 0.5 else j for j in jobs]
    week = Problem(
        jobs=tuple(jobs),
        bays=(Bay("b", "Bay", "home", (Span(7, 8),) if random.random() < 0.3 else ()),),
        people=(
            Person("p", "P", frozenset({"x"}), (Shift("home", 0, random.randint(4, 9)),)),
            Person("q", "Q", frozenset(), (Shift("home", random.randint(0, 4), 9),)),
        ),
        equipment=(Equipment("k", "Kit", "kit", "home", (Span(0, 6),) if random.random() < 0.5 else None),),
        windows=(Window("A", "home", 0, random.randint(6, 9)), Window("B", "home", random.randint(0, 3), 9)),
        tow_in=random.randint(0, 1),
        tow_out=random.randint(0, 1),
        horizon=9,
    )
    published = [
        Slot(j.id, 3, 3 + j.duration, "b", ("p", "q")[: j.people]) for j in jobs if random.random() < 0.5
    ]
    return replace(week, published=tuple(published))


def places(week: Problem, job: Job) -> Iterator[Slot | None]:
    yield None
    units = ("k",) if job.equipment else ()
    for start in range(week.horizon - job.duration + 1):
        for team in combinations(("p", "q"), job.people):
            slot = Slot(job.id, start, start + job.duration, "b" if job.needs_bay else None, team, units)
            if not check(replace(week, jobs=(replace(job, after=(), other_person_than=()),)), [slot]):
                yield slot


def cheapest_of_all(week: Problem) -> int:
    costs = []
    for choice in product(*(list(places(week, job)) for job in week.jobs)):
        slots = [slot for slot in choice if slot is not None]
        cost = cost_of(week, slots)
        if (not costs or cost < min(costs)) and not check(week, slots):
            costs.append(cost)
    return min(costs)


@pytest.mark.parametrize("seed", range(25))
def test_the_solver_finds_the_cheapest_of_all_plans(seed):
    week = tiny(seed)
    plan = solve(week, 10, workers=1)
    assert plan.is_optimal
    assert (plan.cost, plan.bound) == (cheapest_of_all(week),) * 2


def test_the_weeks_tried_leave_jobs_out_and_place_others():
    plans = [solve(tiny(seed), 10, workers=1) for seed in range(25)]
    assert any(plan.unplaced for plan in plans)
    assert sum(len(plan.slots) for plan in plans) > 30
