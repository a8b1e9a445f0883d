"""Reading project scheduling instances in Patterson's format as weeks of the planner.

The instances themselves (PSPLIB, Kolisch and Sprecher 1996) are not part of this repository.
"""

from __future__ import annotations

from scheduling.planner.problem import Equipment, Job, Plan, Problem, Window

MUST = 100_000


def week_from_patterson(text: str) -> Problem:
    """One project as one aircraft on the ground until everything is done; resources become pooled equipment.

    The last activity takes one slot and is due at 0, so the plan costs the project's length plus one.
    """
    numbers = [int(word) for word in text.split()]
    count, kinds = numbers[0], numbers[1]
    capacities, place = numbers[2 : 2 + kinds], 2 + kinds
    durations, demands, after = [], [], [[] for _ in range(count)]
    for activity in range(count):
        durations.append(numbers[place])
        demands.append(numbers[place + 1 : place + 1 + kinds])
        followers = numbers[place + 1 + kinds]
        place += 2 + kinds
        for follower in numbers[place : place + followers]:
            after[follower - 1].append(activity)
        place += followers
    horizon = sum(durations) + 1
    jobs = [
        Job(
            id=n,
            title=f"activity {n}",
            aircraft="project",
            duration=max(1, durations[n]),
            people=0,
            equipment=tuple((f"kind {k}", d) for k, d in enumerate(demands[n]) if d),
            needs_bay=False,
            after=tuple(first for first in after[n] if first != 0),
            due_soft=0 if n == count - 1 else None,
            drop_cost=MUST,
        )
        for n in range(1, count)
    ]
    units = [
        Equipment(f"{k}/{u}", "", f"kind {k}", "site") for k, c in enumerate(capacities) for u in range(c)
    ]
    window = Window("project", "site", 0, horizon)
    return Problem(tuple(jobs), equipment=tuple(units), windows=(window,), horizon=horizon)


def length_of(plan: Plan) -> int:
    """The project's length in a plan: everything must be placed."""
    if plan.unplaced:
        raise ValueError(f"{len(plan.unplaced)} activities found no place")
    return plan.cost - 1
