"""The checker: a sound plan passes, and every kind of fault planted in it is named."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduling.planner.check import Rule, check, cost_of
from scheduling.planner.problem import (
    Bay,
    Costs,
    Equipment,
    Job,
    Person,
    Problem,
    Shift,
    Slot,
    Span,
    Window,
)

ADA = Person("ada", "Ada Berg", frozenset({"ice"}), (Shift("Norrvik", 30, 70),))
BO = Person("bo", "Bo Lind", frozenset({"inspect", "ice"}), (Shift("Norrvik", 30, 70),))
CY = Person("cy", "Cy Holm", frozenset(), (Shift("Norrvik", 30, 50), Shift("Hallin", 50, 70)))
PURGE = Job("purge", "Panel purge", "QX-SKA", 4, 1, frozenset({"ice"}), (("kit", 1),), alone=True)
TEST = Job(
    "test", "Flow test", "QX-SKA", 4, 2, frozenset({"ice"}), after=("purge",), due_soft=40, late_cost=2
)
LOOK = Job(
    "look",
    "Inspection",
    "QX-SKA",
    2,
    skills=frozenset({"inspect"}),
    after=("test",),
    other_person_than=("purge", "test"),
    due_hard=60,
)
WASH = Job("wash", "Wash", "QX-SKB", 4, needs_bay=False, earliest=32)
OIL = Job("oil", "Oil change", "QX-SKB", 4)
WEEK = Problem(
    jobs=(PURGE, TEST, LOOK, WASH, OIL),
    bays=(
        Bay("b1", "Bay 1", "Norrvik", (Span(64, 70),)),
        Bay("b2", "Bay 2", "Norrvik"),
        Bay("b3", "Bay 3", "Hallin"),
    ),
    people=(ADA, BO, CY),
    equipment=(
        Equipment("k1", "Kit 1", "kit", "Norrvik", (Span(0, 60),)),
        Equipment("k2", "Kit 2", "kit", "Hallin"),
    ),
    windows=(Window("QX-SKA", "Norrvik", 28, 70), Window("QX-SKB", "Norrvik", 28, 70)),
)
GOOD = {
    "purge": Slot("purge", 32, 36, "b1", ("ada",), ("k1",)),
    "test": Slot("test", 38, 42, "b1", ("ada", "cy")),
    "look": Slot("look", 44, 46, "b1", ("bo",)),
    "wash": Slot("wash", 32, 36, None, ("cy",)),
    "oil": Slot("oil", 50, 54, "b1", ("ada",)),
}


def broken(problem=WEEK, without=(), **changes):
    slots = [replace(slot, **changes.get(name, {})) for name, slot in GOOD.items() if name not in without]
    return {violation.rule for violation in check(problem, slots)}


def moved(start, length=4, **more):
    return {"start": start, "end": start + length, **more}


def test_a_sound_plan_passes():
    assert check(WEEK, list(GOOD.values())) == ()


def test_the_cost_adds_lateness_visits_moves_and_what_is_left_out():
    week = replace(WEEK, costs=Costs(visit=40, move=10), published=(replace(GOOD["wash"], start=33, end=37),))
    assert cost_of(week, list(GOOD.values())) == 2 * 2 + 40 + 40 + 10
    assert cost_of(week, [GOOD["wash"]]) == 10 + 4 * 500


@pytest.mark.parametrize(
    ("rule", "changes"),
    [
        (Rule.KNOWN_JOB, {"wash": {"job_id": "polish"}}),
        (Rule.PLACED_ONCE, {"wash": {**moved(50), "job_id": "oil", "bay": "b1", "people": ("bo",)}}),
        (Rule.DURATION, {"oil": {"end": 53}}),
        (Rule.GROUND_TIME, {"oil": moved(66)}),
        (Rule.GROUND_TIME, {"purge": moved(28)}),
        (Rule.EARLIEST, {"wash": moved(31)}),
        (Rule.HARD_DUE, {"look": moved(59, 2)}),
        (Rule.BAY, {"oil": {"bay": None}}),
        (Rule.BAY, {"oil": {"bay": "b3"}}),
        (Rule.BAY, {"oil": {"bay": "b9"}}),
        (Rule.BAY, {"wash": {"bay": "b2"}}),
        (Rule.BAY, {"oil": moved(60)}),
        (Rule.BAY_SHARED, {"oil": moved(47)}),
        (Rule.ONE_BAY_PER_VISIT, {"look": {"bay": "b2"}}),
        (Rule.PEOPLE_COUNT, {"test": {"people": ("ada",)}}),
        (Rule.PEOPLE_COUNT, {"test": {"people": ("ada", "ada")}}),
        (Rule.PEOPLE_COUNT, {"test": {"people": ("ada", "nobody")}}),
        (Rule.SKILL, {"look": {"people": ("cy",)}}),
        (Rule.SHIFT, {"oil": {"people": ("cy",)}}),
        (Rule.PERSON_TWICE, {"wash": {"people": ("ada",)}}),
        (Rule.EQUIPMENT_COUNT, {"purge": {"equipment": ()}}),
        (Rule.EQUIPMENT_COUNT, {"wash": {"equipment": ("k1",)}}),
        (Rule.EQUIPMENT_AWAY, {"purge": {"equipment": ("k2",)}}),
        (Rule.ORDER, {"purge": moved(36)}),
        (Rule.INDEPENDENCE, {"test": {"people": ("ada", "bo")}}),
        (Rule.ALONE, {"purge": moved(40)}),
    ],
)
def test_a_planted_fault_is_named(rule, changes):
    assert rule in broken(**changes)


def test_equipment_out_of_calibration_is_named():
    week = replace(WEEK, equipment=(Equipment("k1", "Kit 1", "kit", "Norrvik", (Span(0, 35),)),))
    assert broken(week) == {Rule.EQUIPMENT_AWAY}


def test_one_unit_for_two_jobs_at_once_is_named():
    week = replace(WEEK, jobs=(PURGE, TEST, LOOK, replace(WASH, equipment=(("kit", 1),)), OIL))
    assert broken(week, wash={"equipment": ("k1",)}) == {Rule.EQUIPMENT_TWICE}


def test_a_job_without_what_must_come_first_is_named():
    assert broken(without=("purge",)) == {Rule.ORDER}


def test_a_pinned_job_that_moved_or_is_missing_is_named():
    week = replace(WEEK, pinned=(GOOD["wash"],))
    assert broken(week) == set()
    assert broken(week, wash=moved(33)) == {Rule.PIN}
    assert broken(week, without=("wash",)) == {Rule.PIN}


def test_the_words_name_the_person_the_jobs_and_the_time():
    (violation,) = check(WEEK, [GOOD["purge"], replace(GOOD["wash"], people=("ada",))])
    assert violation.words == "Ada Berg is on Panel purge and Wash at once, Mon 08:00."
    assert violation.jobs == ("purge", "wash")


def test_every_rule_the_checker_knows_has_a_planted_fault():
    here = {
        mark.args[1][n][0]
        for mark in test_a_planted_fault_is_named.pytestmark
        for n in range(len(mark.args[1]))
    }
    assert here | {Rule.EQUIPMENT_TWICE, Rule.PIN} == set(Rule)
