"""How good and how fast week plans are, on made-up weeks of three sizes.

    python -m tests.benchmarks.bench_planner [small|middle|large] [SECONDS] [SEEDS]

Prints the serial schedule's time and cost, the plan's cost, the bound (every aircraft planned as if alone) and
their ratio, and for comparison the cost of one model of the whole week begun from the same serial schedule.
"""

from __future__ import annotations

import sys
from random import Random
from statistics import median
from time import monotonic, perf_counter

from scheduling.planner.board import index
from scheduling.planner.check import check, cost_of
from scheduling.planner.greedy import best_of, greedy, priority_order
from scheduling.planner.solve import Effort, Found, bound_of_each_aircraft, improve_whole, solve
from tests.pure.planner.weeks import LARGE, MIDDLE, SMALL, week

SIZES = {"small": SMALL, "middle": MIDDLE, "large": LARGE}


def main(name: str, seconds: float, seeds: int) -> None:
    """Measure one size over several seeds in one run."""
    to_bound, to_whole = [], []
    for seed in range(seeds):
        problem = week(seed, SIZES[name])
        began = perf_counter()
        facts = index(problem)
        serial = greedy(facts, priority_order(facts))
        milliseconds = 1000 * (perf_counter() - began)
        plan = solve(problem, seconds, seed=seed)
        if check(problem, plan.slots):
            raise SystemExit("the checker refused a plan")
        bound = bound_of_each_aircraft(facts, Effort(600.0, seed, 2, deterministic=False, began=monotonic()))
        start = best_of(facts, 8, Random(seed))
        effort = Effort(seconds, seed, 2, deterministic=False, began=monotonic())
        whole = improve_whole(facts, Found(start, cost_of(problem, start)), effort).cost
        best_bound = max(bound, plan.bound)
        to_bound.append(plan.cost / best_bound if best_bound else 1.0)
        to_whole.append(plan.cost / whole if whole else 1.0)
        print(
            f"{name} seed {seed}: serial {milliseconds:.0f} ms cost {cost_of(problem, serial)} "
            f"({len(problem.jobs) - len(serial)} of {len(problem.jobs)} left out), plan {plan.cost} "
            f"({len(plan.unplaced)} left out), bound {best_bound}, whole model {whole}, optimal {plan.is_optimal}"
        )
    print(f"{name}: median plan/bound {median(to_bound):.2f}, median plan/whole model {median(to_whole):.2f}")


if __name__ == "__main__":
    arguments = sys.argv[1:]
    main(
        arguments[0] if arguments else "small",
        float(arguments[1]) if len(arguments) > 1 else 10.0,
        int(arguments[2]) if len(arguments) > 2 else 3,
    )
