"""Work moved by hand on a draft: pinned where it stands, refused in words where it cannot."""

from __future__ import annotations

import pytest

from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from scheduling.models import Shift, Slot, WeekPlan
from scheduling.services.plans import publish_week
from scheduling.services.slot_moves import SlotMove, move_slot, take_out, unpin_slot
from tests.makers import make_house
from tests.scheduling.makers import TaskMaker
from tests.scheduling.plans.week import Hangar, make_hangar, wall


@pytest.fixture
def plan(hangar: Hangar) -> WeekPlan:
    return hangar.planned()


def move(hangar: Hangar, plan: WeekPlan, day: int, hour: int, **more: object) -> Slot:
    values = {"plan_id": plan.pk, "task_id": hangar.test.pk, "starts_at": wall(day, hour)} | more
    return move_slot(actor=hangar.controller, move=SlotMove(**values))  # type: ignore[arg-type]


def refused(hangar: Hangar, plan: WeekPlan, day: int, hour: int, **more: object) -> list[str]:
    before = list(Slot.objects.order_by("task_id").values("task_id", "starts_at", "bay_id", "is_pinned"))
    with pytest.raises(Conflict) as caught:
        move(hangar, plan, day, hour, **more)
    assert caught.value.code == "slot_cannot_stand"
    after = list(Slot.objects.order_by("task_id").values("task_id", "starts_at", "bay_id", "is_pinned"))
    assert after == before
    return [reason.detail for reason in caught.value.reasons]


def test_a_slot_moved_by_hand_stands_there_pinned(hangar: Hangar, plan: WeekPlan) -> None:
    row = move(hangar, plan, 2, 10)
    assert (row.starts_at, row.ends_at, row.is_pinned) == (wall(2, 10), wall(2, 11), True)
    assert row.people.count() == 1
    assert row.equipment.count() == 1


def test_planning_again_leaves_it_there(hangar: Hangar, plan: WeekPlan) -> None:
    move(hangar, plan, 2, 10)
    again = hangar.planned()
    assert again.pk == plan.pk
    row = again.slots.get(task=hangar.test)
    assert (row.starts_at, row.is_pinned) == (wall(2, 10), True)


def test_unpinned_it_may_be_moved_again(hangar: Hangar, plan: WeekPlan) -> None:
    move(hangar, plan, 2, 10)
    unpin_slot(actor=hangar.controller, plan_id=plan.pk, task_id=hangar.test.pk)
    assert hangar.planned().slots.get(task=hangar.test).starts_at == wall(0, 9)


def test_the_test_cannot_stand_before_the_purge(hangar: Hangar, plan: WeekPlan) -> None:
    move(hangar, plan, 2, 10)
    move_slot(actor=hangar.controller, move=SlotMove(plan.pk, hangar.purge.pk, wall(1, 8)))
    words = refused(hangar, plan, 0, 9)
    registration = hangar.workshop.aircraft.registration
    assert words == [
        f"Panel flow test on {registration} starts Mon 09:00, before Panel purge on {registration} ends."
    ]


def test_work_outside_the_ground_time_is_refused(hangar: Hangar, plan: WeekPlan) -> None:
    words = refused(hangar, plan, 4, 10)
    assert any("is not on the ground from Fri 10:00 to Fri 11:00" in one for one in words)


def test_work_outside_every_shift_is_refused_with_who_is_missing(hangar: Hangar, plan: WeekPlan) -> None:
    words = refused(hangar, plan, 2, 20)
    assert any("is not on shift" in one for one in words)
    assert any("fewer than 1 people are on shift and free then" in one for one in words)


def test_one_visit_is_in_one_bay(hangar: Hangar, plan: WeekPlan) -> None:
    bay = plan.slots.first().bay.name  # type: ignore[union-attr]
    other = "Bay 2" if bay == "Bay 1" else "Bay 1"
    words = refused(hangar, plan, 1, 10, bay=other)
    assert any("in one visit" in one for one in words)


def test_other_people_are_chosen_where_those_it_had_are_not_there(hangar: Hangar, plan: WeekPlan) -> None:
    had = plan.slots.get(task=hangar.test).people.get()
    Shift.objects.filter(person=had, starts_at__gte=wall(2, 0)).delete()
    row = move(hangar, plan, 2, 10)
    assert row.people.get() != had


def test_what_found_no_place_can_be_given_one_by_hand(hangar: Hangar, plan: WeekPlan) -> None:
    take_out(actor=hangar.controller, plan_id=plan.pk, task_id=hangar.test.pk)
    plan.refresh_from_db()
    assert [one["task"] for one in plan.outcome["unplaced"]] == [hangar.test.pk]
    move(hangar, plan, 1, 10)
    plan.refresh_from_db()
    assert plan.outcome["unplaced"] == []


def test_work_that_others_follow_is_not_taken_out_before_them(hangar: Hangar, plan: WeekPlan) -> None:
    with pytest.raises(Conflict) as caught:
        take_out(actor=hangar.controller, plan_id=plan.pk, task_id=hangar.purge.pk)
    assert "must come first" in caught.value.reasons[0].detail
    assert plan.slots.count() == 2


def test_a_start_off_the_quarter_hour_and_an_unknown_bay_are_refused(hangar: Hangar, plan: WeekPlan) -> None:
    with pytest.raises(Invalid) as caught:
        move_slot(actor=hangar.controller, move=SlotMove(plan.pk, hangar.test.pk, wall(1, 10, 7)))
    assert caught.value.reasons[0].field == "starts_at"
    with pytest.raises(Invalid) as caught:
        move(hangar, plan, 1, 10, bay="Bay 9")
    assert caught.value.reasons[0].field == "bay"


def test_a_published_plan_is_not_moved_about(hangar: Hangar, plan: WeekPlan) -> None:
    publish_week(actor=hangar.controller, plan_id=plan.pk)
    with pytest.raises(Conflict) as caught:
        move(hangar, plan, 1, 10)
    assert caught.value.code == "not_a_draft"


def test_a_task_of_another_operator_is_no_work_of_this_week(hangar: Hangar, plan: WeekPlan) -> None:
    other = TaskMaker(aircraft=make_house().aircraft, code="other-work")
    with pytest.raises(NotFound):
        move(hangar, plan, 1, 10, task_id=other.pk)


@pytest.mark.parametrize("role", ["technician", "auditor", "administrator"])
def test_who_does_not_plan_moves_nothing(hangar: Hangar, plan: WeekPlan, role: str) -> None:
    before = list(Slot.objects.values("pk", "starts_at"))
    with pytest.raises(NotAllowed):
        move_slot(actor=hangar.actor(role), move=SlotMove(plan.pk, hangar.test.pk, wall(1, 10)))
    assert list(Slot.objects.values("pk", "starts_at")) == before


def test_two_jobs_for_one_person_at_once_are_refused_by_name(db: None) -> None:
    hangar = make_hangar()
    Shift.objects.filter(person=hangar.person("inspector")).delete()
    plan = hangar.planned()
    move(hangar, plan, 1, 10)
    with pytest.raises(Conflict) as caught:
        move_slot(actor=hangar.controller, move=SlotMove(plan.pk, hangar.purge.pk, wall(1, 10)))
    assert any("at once" in reason.detail for reason in caught.value.reasons)
