"""Solved weeks: always sound, repeatable, faithful to pins and to the published plan, and explained."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduling.planner.board import index
from scheduling.planner.check import check, cost_of
from scheduling.planner.greedy import greedy, priority_order
from scheduling.planner.problem import (
    BadProblem,
    Bay,
    Equipment,
    Job,
    Person,
    Problem,
    Shift,
    Slot,
    Span,
    Window,
)
from scheduling.planner.solve import PinsConflict, solve
from tests.pure.planner.weeks import Size, disturbed, week

HALF_DAY = Problem(
    jobs=(Job("a", "Purge", "QX-SKA", 4), Job("b", "Flow test", "QX-SKA", 4)),
    bays=(Bay("bay", "Bay 1", "Norrvik"),),
    people=(Person("ada", "Ada Berg", frozenset(), (Shift("Norrvik", 32, 48),)),),
    windows=(Window("QX-SKA", "Norrvik", 30, 60),),
)


def reasons(problem, job_id="a"):
    plan = solve(problem, 5, workers=1)
    return next(left.reasons for left in plan.unplaced if left.job_id == job_id)


def one_job(**changes):
    return replace(HALF_DAY, jobs=(Job("a", "Purge", "QX-SKA", 4, **changes),))


def test_two_jobs_and_one_person_stand_one_after_the_other_in_one_visit():
    plan = solve(HALF_DAY, 5, workers=1)
    first, second = plan.slots
    assert first.end <= second.start
    assert (plan.cost, plan.bound, plan.is_optimal, plan.unplaced) == (40, 40, True, ())


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 8), st.integers(2, 6), st.integers(1, 2))
def test_every_serial_schedule_passes_the_checker(seed, aircraft, people, bases):
    problem = week(seed, Size(aircraft, people, bases))
    slots = greedy(index(problem), priority_order(index(problem)))
    assert check(problem, slots) == ()


@settings(max_examples=6, deadline=None)
@given(st.integers(0, 10_000), st.integers(2, 4), st.integers(2, 5))
def test_every_solved_week_passes_the_checker_and_never_costs_more_than_the_serial_one(
    seed, aircraft, people
):
    problem = week(seed, Size(aircraft, people, 1))
    plan = solve(problem, 0.5, seed=seed, workers=1)
    serial = greedy(index(problem), priority_order(index(problem)))
    assert check(problem, plan.slots) == ()
    assert plan.bound <= plan.cost <= cost_of(problem, serial)
    assert {slot.job_id for slot in plan.slots} | {left.job_id for left in plan.unplaced} == {
        job.id for job in problem.jobs
    }
    assert all(left.reasons for left in plan.unplaced)


def test_a_large_week_is_improved_by_parts_and_stays_sound():
    problem = week(3, Size(20, 10, 2))
    assert len(problem.jobs) == 120
    serial = cost_of(problem, greedy(index(problem), priority_order(index(problem))))
    plan = solve(problem, 3, seed=1, workers=1)
    assert check(problem, plan.slots) == ()
    assert plan.cost < serial


@pytest.mark.parametrize("size", [Size(4, 4, 1), Size(17, 8, 2)], ids=["whole", "by parts"])
def test_the_same_seed_and_effort_give_the_same_plan(size):
    problem = week(5, size)
    plans = {solve(problem, 0.15, seed=7, deterministic=True) for _ in range(2)}
    assert len(plans) == 1


def test_a_published_plan_is_kept_when_nothing_has_changed():
    problem = week(2, Size(4, 4, 1))
    first = solve(problem, 10, workers=1)
    again = solve(replace(problem, published=first.slots), 10, workers=1)
    strip = [(slot.job_id, slot.start, slot.bay, set(slot.people)) for slot in first.slots]
    assert [(slot.job_id, slot.start, slot.bay, set(slot.people)) for slot in again.slots] == strip


def test_when_people_fall_ill_most_of_the_published_plan_still_stands():
    problem = week(2, Size(6, 6, 1))
    before = solve(problem, 5, workers=1)
    changed = disturbed(problem, before.slots, 4)
    after = solve(changed, 5, workers=1)
    starts = {slot.job_id: slot.start for slot in before.slots}
    kept = sum(starts.get(slot.job_id) == slot.start for slot in after.slots)
    assert check(changed, after.slots) == ()
    assert kept >= len(after.slots) // 2


def test_a_pinned_job_stays_and_the_others_go_round_it():
    pin = Slot("b", 32, 36, "bay", ("ada",))
    plan = solve(replace(HALF_DAY, pinned=(pin,)), 5, workers=1)
    places = {slot.job_id: slot.start for slot in plan.slots}
    assert places["b"] == 32
    assert places["a"] >= 36


def test_pins_that_cannot_stand_are_refused_with_the_reason():
    pins = (Slot("a", 32, 36, "bay", ("ada",)), Slot("b", 34, 38, "bay", ("ada",)))
    with pytest.raises(PinsConflict) as refused:
        solve(replace(HALF_DAY, pinned=pins), 5)
    assert str(refused.value) == "Ada Berg is on Purge and Flow test at once, Mon 08:30."


def test_a_pin_may_wait_for_work_that_is_not_pinned():
    jobs = (Job("a", "Purge", "QX-SKA", 4), Job("b", "Flow test", "QX-SKA", 4, after=("a",)))
    pinned = replace(HALF_DAY, jobs=jobs, pinned=(Slot("b", 40, 44, "bay", ("ada",)),))
    places = {slot.job_id: slot.start for slot in solve(pinned, 5, workers=1).slots}
    assert places["a"] <= 36


def test_units_of_one_kind_are_counted_and_given_out():
    jobs = tuple(
        Job(n, f"Job {n}", f"QX-{n}", 4, people=0, equipment=(("kit", 1),), needs_bay=False) for n in range(3)
    )
    windows = tuple(Window(f"QX-{n}", "Norrvik", 0, 8) for n in range(3))
    kits = tuple(Equipment(f"k{n}", f"Kit {n}", "kit", "Norrvik") for n in range(2))
    plan = solve(Problem(jobs, equipment=kits, windows=windows), 5, workers=1)
    assert len(plan.slots) == 3
    assert check(Problem(jobs, equipment=kits, windows=windows), plan.slots) == ()


def test_a_unit_whose_calibration_runs_out_is_used_before_and_the_other_after():
    kits = (
        Equipment("k0", "Kit 0", "kit", "Norrvik", (Span(0, 4),)),
        Equipment("k1", "Kit 1", "kit", "Norrvik"),
    )
    jobs = tuple(
        Job(n, f"Job {n}", f"QX-{n}", 4, people=0, equipment=(("kit", 1),), needs_bay=False) for n in range(3)
    )
    windows = tuple(Window(f"QX-{n}", "Norrvik", 0, 8) for n in range(3))
    plan = solve(Problem(jobs, equipment=kits, windows=windows), 5, workers=1)
    assert sorted(slot.equipment for slot in plan.slots) == [("k0",), ("k1",), ("k1",)]


@pytest.mark.parametrize(
    ("problem", "words"),
    [
        (replace(one_job(), windows=()), "QX-SKA is not on the ground at a base this week."),
        (
            replace(one_job(), windows=(Window("QX-SKA", "Norrvik", 30, 35),)),
            "QX-SKA stands at most 1 h 15 min at a time; 1 h 30 min are needed.",
        ),
        (one_job(due_hard=33), "No ground time of 1 h 30 min lies within its limits (done by Mon 08:15)."),
        (
            one_job(skills=frozenset({"ice"})),
            "While QX-SKA is on the ground, nobody authorised for ice is on shift long enough at Norrvik.",
        ),
        (
            one_job(people=2),
            "While QX-SKA is on the ground, fewer than 2 people are on shift together at Norrvik.",
        ),
        (one_job(equipment=(("kit", 1),)), "While QX-SKA is on the ground, 1 kit cannot be had at Norrvik."),
        (
            replace(one_job(), bays=()),
            "While QX-SKA is on the ground, no bay at Norrvik is open long enough.",
        ),
        (
            one_job(due_soft=0, late_cost=50),
            "It would fit on Mon 08:00, but being that late or towing again costs more than leaving it out.",
        ),
    ],
)
def test_a_job_without_a_place_says_what_is_missing(problem, words):
    assert reasons(problem) == (words,)


def test_a_job_that_lost_a_contest_says_who_would_have_to_be_free():
    jobs = (Job("a", "Purge", "QX-SKA", 12), Job("b", "Flow test", "QX-SKA", 12, drop_cost=900))
    long = replace(HALF_DAY, jobs=jobs)
    assert reasons(long) == ("It would fit on Mon 07:45 if 1 person were on shift and free.",)


def test_a_missing_authorisation_is_told_apart_from_missing_hands():
    helper = Person("bo", "Bo Lind", frozenset(), (Shift("Norrvik", 32, 60),))
    leader = Person("ada", "Ada Berg", frozenset({"ice"}), (Shift("Norrvik", 32, 44),))
    jobs = (
        Job("a", "Purge", "QX-SKA", 10, skills=frozenset({"ice"})),
        Job("b", "Flow test", "QX-SKA", 10, skills=frozenset({"ice"}), drop_cost=900),
    )
    contest = replace(HALF_DAY, jobs=jobs, people=(leader, helper))
    assert reasons(contest) == (
        "It would fit on Mon 08:00 if somebody authorised for ice were on shift and free.",
    )


def test_a_job_whose_first_step_found_no_place_says_so():
    chain = replace(
        HALF_DAY,
        jobs=(Job("b", "Purge", "QX-SKA", 4, people=3), Job("a", "Flow test", "QX-SKA", 4, after=("b",))),
    )
    assert reasons(chain) == ("It waits for Purge, which found no place.",)


def test_facts_that_make_no_sense_are_refused_by_field():
    wrong = replace(
        HALF_DAY,
        jobs=(Job("a", "Purge", "QX-SKA", 0), Job("a", "Again", "QX-SKA", 1, after=("z",))),
        windows=(
            Window("QX-SKA", "Norrvik", 30, 60),
            Window("QX-SKA", "Hallin", 50, 40),
            Window("QX-SKA", "Hallin", 50, 70),
        ),
    )
    with pytest.raises(BadProblem) as refused:
        solve(wrong, 1)
    assert {mistake.field for mistake in refused.value.mistakes} == {
        "jobs",
        "jobs[a].duration",
        "jobs[a].after",
        "windows[QX-SKA]",
    }


def test_jobs_that_wait_for_each_other_are_refused():
    circle = replace(
        HALF_DAY,
        jobs=(Job("a", "One", "QX-SKA", 1, after=("b",)), Job("b", "Two", "QX-SKA", 1, after=("a",))),
    )
    with pytest.raises(BadProblem, match="waits for itself in a circle"):
        solve(circle, 1)
