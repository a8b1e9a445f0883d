"""The planner's own entry solves a project with limited resources."""

from __future__ import annotations

from scheduling.planner.check import check
from scheduling.planner.solve import solve
from tests.benchmarks.psplib import length_of, week_from_patterson

# Two activities of 3 and 2 slots that together ask more than the 4 units, then one of 2 slots after the first.
PROJECT = """
5 1
4
0 0 2 2 3
3 3 1 4
2 2 1 5
2 1 1 5
0 0 0
"""


def test_a_small_project_takes_its_shortest_length():
    problem = week_from_patterson(PROJECT)
    plan = solve(problem, 5, workers=1)
    assert check(problem, plan.slots) == ()
    assert plan.is_optimal
    assert length_of(plan) == 5


def test_activities_that_ask_more_than_there_is_are_never_done_at_once():
    plan = solve(week_from_patterson(PROJECT), 5, workers=1)
    slots = {slot.job_id: slot for slot in plan.slots}
    assert slots[1].end <= slots[2].start or slots[2].end <= slots[1].start
