"""Work done moves the due items it answers, in the counters of their own subject."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from fleet.common.clock import now
from fleet.selectors.meters import Counters
from scheduling.models import DueFact, Task, Variation
from scheduling.selectors.due import overdue_items
from scheduling.services.accomplishment import Completion, move_last_done
from scheduling.status import Consequence
from tests.makers import NOON, House, at, fit, make_house
from tests.scheduling.due.makers import (
    HUNDRED_HOURS,
    TWELVE_MONTHS,
    apply,
    first_of,
    make_procedure,
    make_requirement,
    make_task,
)
from tests.words import plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> House:
    return make_house(minutes=78_270)


def done(task: Task, minutes: int = 78_270, days: int = 0) -> Completion:
    return Completion(task.pk, at(days), Counters(minutes, 1_200, 1_200), "QX-T001-000001")


def test_hundred_hours_done_late_count_from_the_due_point_and_the_months_from_the_day_of_the_work(
    house: House,
) -> None:
    procedure = make_procedure(house.operator)
    requirement = make_requirement(
        house.operator, limits=first_of(HUNDRED_HOURS, TWELVE_MONTHS), procedure=procedure
    )
    applied = apply(requirement, house.aircraft, day=date(2025, 1, 10), hours=72_000)
    task = make_task(house.aircraft, procedure)
    moved = move_last_done(actor=house.actor("inspector"), task=task, completion=done(task))
    applied.refresh_from_db()
    assert applied.last_done["counters"]["hours"] == 78_270
    assert applied.last_due["1"]["at"] == 78_000
    assert applied.proof == "QX-T001-000001"
    assert applied.done_on == NOON.date()
    fact = DueFact.objects.get(pk=applied.pk)
    assert fact.due_minutes == 84_000
    assert moved[0].result.is_violation


def test_a_component_item_moves_in_the_counters_of_the_component(house: House) -> None:
    procedure = make_procedure(house.operator)
    fitted = fit(house.aircraft, house.aircraft.aircraft_type.positions.first().code, opening_minutes=6_000)
    requirement = make_requirement(
        house.operator, limits={"measure": "hours", "every": "500:00"},
        component_kind=fitted.component.kind, procedure=procedure,
    )  # fmt: skip
    applied = apply(requirement, fitted.component)
    task = make_task(house.aircraft, procedure, position=fitted.position)
    move_last_done(actor=house.actor("inspector"), task=task, completion=done(task))
    applied.refresh_from_db()
    # 6000 brought along, and 78270 - 60000 flown since it was fitted at 60000
    assert applied.last_done["counters"]["hours"] == 24_270
    assert DueFact.objects.get(pk=applied.pk).due_minutes == 78_270 + 30_000


def test_work_on_one_position_leaves_the_component_at_another_as_it_was(house: House) -> None:
    procedure = make_procedure(house.operator)
    first, second = list(house.aircraft.aircraft_type.positions.filter(kind__code="porous-panel"))[:2]
    here, there = fit(house.aircraft, first.code), fit(house.aircraft, second.code)
    requirement = make_requirement(house.operator, procedure=procedure, component_kind=here.component.kind)
    apply(requirement, here.component)
    other = apply(requirement, there.component)
    task = make_task(house.aircraft, procedure, position=first, scope=first.code)
    move_last_done(actor=house.actor("inspector"), task=task, completion=done(task))
    other.refresh_from_db()
    assert other.last_done == {}


def test_the_variation_is_used_up_with_the_work(house: House) -> None:
    procedure = make_procedure(house.operator)
    requirement = make_requirement(house.operator, procedure=procedure)
    applied = apply(requirement, house.aircraft, day=date(2025, 1, 10), hours=72_000)
    variation = Variation.objects.create(
        applicability=applied, path="1", for_due=78_000, measure="hours", amount=600, reason="no bay",
        authority="V1", granted_by=house.person("director"), granted_at=NOON,
    )  # fmt: skip
    task = make_task(house.aircraft, procedure)
    moved = move_last_done(actor=house.actor("inspector"), task=task, completion=done(task))
    variation.refresh_from_db()
    assert variation.used_at == at(0)
    assert not moved[0].result.is_violation


def test_an_older_record_does_not_take_back_a_later_last_done(house: House) -> None:
    procedure = make_procedure(house.operator)
    requirement = make_requirement(house.operator, procedure=procedure)
    applied = apply(requirement, house.aircraft, day=NOON.date() + timedelta(days=3), hours=78_400)
    task = make_task(house.aircraft, procedure)
    assert move_last_done(actor=house.actor("inspector"), task=task, completion=done(task)) == []
    applied.refresh_from_db()
    assert applied.last_done["counters"]["hours"] == 78_400


def test_overdue_items_are_found_without_any_kept_facts_and_say_by_how_much(house: House) -> None:
    requirement = make_requirement(house.operator, consequence="icing")
    applied = apply(requirement, house.aircraft, day=date(2025, 1, 10), hours=72_000)
    found = overdue_items([house.aircraft.pk])[house.aircraft.pk]
    assert [(one.due_id, one.consequence) for one in found] == [(applied.pk, Consequence.ICING)]
    assert plain(found[0].words) == "flight hours: 4:30 h past, due at 1 300:00 h"


def test_an_item_within_its_limits_is_not_overdue(house: House) -> None:
    requirement = make_requirement(house.operator)
    apply(requirement, house.aircraft, day=now().date(), hours=78_000)
    assert overdue_items([house.aircraft.pk]) == {house.aircraft.pk: []}
