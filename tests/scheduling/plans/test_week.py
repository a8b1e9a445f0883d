"""A week asked for, worked out, published, planned again."""

from __future__ import annotations

from datetime import date, timedelta
from unittest.mock import DEFAULT, patch

import pytest
from django.db import OperationalError

from fleet.common.clock import frozen, now
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound, Stale
from fleet.models import Authorisation
from scheduling.models import Bay, GroundTime, Shift, Slot, Task, TaskState, WeekPlan
from scheduling.services import week_solving
from scheduling.services.plans import ask_for_week, discard_draft, open_draft, publish_week, solve_asked
from scheduling.services.week_solving import claim_week, solve_claimed
from tests.makers import AircraftMaker, CalibrationMaker, actor_of, make_house, make_person
from tests.scheduling.makers import TaskMaker
from tests.scheduling.plans.week import MONDAY, SUNDAY_NOON, Hangar, make_hangar, wall

S = WeekPlan.State


def words_of(plan: WeekPlan) -> list[str]:
    return [words for one in plan.outcome["unplaced"] for words in one["reasons"]]


def test_a_week_asked_for_becomes_a_draft_with_the_purge_before_the_test(hangar: Hangar) -> None:
    plan = hangar.planned()
    assert plan.state == S.DRAFT
    purge, test = plan.slots.get(task=hangar.purge), plan.slots.get(task=hangar.test)
    assert purge.ends_at <= test.starts_at
    assert (purge.starts_at, purge.ends_at) == (wall(0, 8), wall(0, 9))
    assert purge.bay_id == test.bay_id
    assert [one.name for one in test.equipment.all()] == ["Measuring cylinder 2 L"]
    assert plan.outcome["unplaced"] == []


def test_asking_leaves_a_row_and_plans_nothing_by_itself(hangar: Hangar) -> None:
    plan = ask_for_week(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    assert (plan.state, Slot.objects.count()) == (S.ASKED, 0)


def test_asking_twice_is_one_plan(hangar: Hangar) -> None:
    first = ask_for_week(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    second = ask_for_week(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    assert first.pk == second.pk


def test_a_plan_is_claimed_by_one_worker_and_again_when_that_one_does_not_come_back(hangar: Hangar) -> None:
    ask_for_week(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    lost = claim_week()
    assert lost is not None
    assert claim_week() is None
    with frozen(now() + timedelta(minutes=11)):
        found = claim_week()
        assert found is not None
        assert solve_claimed(lost, seconds=1) is False
        assert solve_claimed(found, seconds=1) is True
    assert WeekPlan.objects.get().state == S.DRAFT


def test_a_planner_that_breaks_off_says_so_and_the_week_may_be_asked_for_again(
    hangar: Hangar, caplog: pytest.LogCaptureFixture
) -> None:
    with patch.object(week_solving, "store_slot", side_effect=[DEFAULT, ValueError("inner words")]):
        plan = hangar.planned()

    words = plan.outcome["problems"][0]
    assert (plan.state, plan.slots.count(), solve_asked(seconds=1)) == ("failed", 0, 0)
    assert ("(ValueError)" in words, "inner words" in words, "tell whoever runs" in words) == (
        True,
        False,
        True,
    )
    assert f"week plan {plan.pk} broke off" in caplog.text
    assert hangar.planned().state == "draft"


def test_a_draft_the_planner_broke_off_over_keeps_its_slots(hangar: Hangar) -> None:
    before = set(hangar.planned().slots.values_list("task", "starts_at"))
    with patch.object(week_solving, "store_slot", side_effect=[DEFAULT, OperationalError]):
        plan = hangar.planned()

    assert (plan.state, set(plan.slots.values_list("task", "starts_at"))) == ("draft", before)
    assert "OperationalError" in plan.outcome["problems"][0]


def test_a_week_that_ends_every_worker_is_given_up_in_words(hangar: Hangar) -> None:
    plan = ask_for_week(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    for minutes in (0, 11, 22):
        with frozen(SUNDAY_NOON + timedelta(minutes=minutes)):
            assert claim_week() is not None

    with frozen(SUNDAY_NOON + timedelta(minutes=33)):
        assert claim_week() is None

    plan.refresh_from_db()
    assert plan.state == "failed"
    assert "the program stopped" in plan.outcome["problems"][0]


@pytest.mark.parametrize("role", ["technician", "inspector", "auditor", "administrator"])
def test_who_does_not_plan_is_refused_and_nothing_is_written(hangar: Hangar, role: str) -> None:
    with pytest.raises(NotAllowed):
        ask_for_week(actor=hangar.actor(role), base_id=hangar.base.pk, monday=MONDAY)
    assert WeekPlan.objects.count() == 0
    plan = hangar.planned()
    with pytest.raises(NotAllowed):
        publish_week(actor=hangar.actor(role), plan_id=plan.pk)
    plan.refresh_from_db()
    assert (plan.state, set(Task.objects.values_list("state", flat=True))) == (S.DRAFT, {"raised"})


def test_a_stranger_finds_neither_base_nor_plan(hangar: Hangar) -> None:
    plan = hangar.planned()
    stranger = make_house().actor("controller")
    with pytest.raises(NotFound):
        ask_for_week(actor=stranger, base_id=hangar.base.pk, monday=MONDAY)
    with pytest.raises(NotFound):
        publish_week(actor=stranger, plan_id=plan.pk)


@pytest.mark.parametrize(
    ("monday", "remedy"),
    [
        (date(2025, 3, 11), "name the Monday the week begins with"),
        (date(2025, 2, 24), "plan this week or a later one"),
        (date(2025, 9, 1), "plan at most 12 weeks ahead"),
    ],
)
def test_a_week_that_makes_no_sense_is_refused(hangar: Hangar, monday: date, remedy: str) -> None:
    with pytest.raises(Invalid) as refused:
        ask_for_week(actor=hangar.controller, base_id=hangar.base.pk, monday=monday)
    assert [reason.remedy for reason in refused.value.reasons] == [remedy]
    assert WeekPlan.objects.count() == 0


def test_without_a_cylinder_the_test_has_no_place_and_says_why(db: None) -> None:
    hangar = make_hangar(cylinders=0)
    plan = hangar.planned()
    assert [slot.task_id for slot in plan.slots.all()] == [hangar.purge.pk]
    assert words_of(plan) == [
        f"While {hangar.workshop.aircraft} is on the ground, "
        f"1 measuring-cylinder cannot be had at {hangar.base}."
    ]


def test_a_cylinder_out_of_calibration_is_not_counted_on(hangar: Hangar) -> None:
    unit = hangar.workshop.operator.equipment.get()
    CalibrationMaker(equipment=unit, done_on=date(2024, 3, 9), due_on=MONDAY - timedelta(days=1))
    assert "measuring-cylinder cannot be had" in words_of(hangar.planned())[0]


def test_without_ground_time_nothing_is_placed(hangar: Hangar) -> None:
    GroundTime.objects.all().delete()
    plan = hangar.planned()
    assert plan.slots.count() == 0
    assert f"{hangar.workshop.aircraft} is not on the ground at a base this week." in words_of(plan)


def test_without_anybody_authorised_the_work_is_not_placed(hangar: Hangar) -> None:
    Authorisation.objects.update(ata_chapters=["71"])
    plan = hangar.planned()
    assert plan.slots.count() == 0
    assert "nobody authorised for chapter 30 on" in words_of(plan)[0]


def test_an_authorisation_that_ends_within_the_shifts_is_not_counted_on(hangar: Hangar) -> None:
    Authorisation.objects.update(valid_to=MONDAY + timedelta(days=1))
    assert hangar.planned().slots.count() == 0
    Shift.objects.filter(starts_at__gte=wall(2, 0)).delete()
    assert hangar.planned().slots.count() == 2


def test_what_stops_all_flight_is_not_planned_after_its_last_lawful_day(hangar: Hangar) -> None:
    Task.objects.filter(pk=hangar.purge.pk).update(
        consequence="airworthiness", latest_day=MONDAY, before="due"
    )
    GroundTime.objects.update(starts_at=wall(1, 0))
    plan = hangar.planned()
    assert plan.slots.count() == 0
    words = "No ground time of 1 h 30 min lies within its limits (done by Tue 00:00)."
    assert words in words_of(plan)


def test_publishing_plans_the_tasks_and_gives_them_to_somebody_authorised(hangar: Hangar) -> None:
    plan = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    assert plan.state == S.PUBLISHED
    for task in Task.objects.all():
        assert task.state == TaskState.PLANNED
        assert task.assigned_to in {hangar.person("technician"), hangar.person("inspector")}


def test_publishing_a_draft_that_changed_meanwhile_is_refused(hangar: Hangar) -> None:
    plan = hangar.planned()
    with pytest.raises(Stale):
        publish_week(actor=hangar.controller, plan_id=plan.pk, version=plan.version - 1)


def test_a_draft_that_can_no_longer_be_worked_is_not_published(hangar: Hangar) -> None:
    plan = hangar.planned()
    Shift.objects.all().delete()
    with pytest.raises(Conflict) as refused:
        publish_week(actor=hangar.controller, plan_id=plan.pk)
    assert refused.value.code == "plan_cannot_stand"
    assert refused.value.reasons
    plan.refresh_from_db()
    assert (plan.state, set(Task.objects.values_list("state", flat=True))) == (S.DRAFT, {"raised"})


def test_work_withdrawn_meanwhile_is_left_out_when_publishing(hangar: Hangar) -> None:
    plan = hangar.planned()
    Task.objects.filter(pk=hangar.test.pk).update(state="withdrawn", withdrawn_reason="not needed")
    plan = publish_week(actor=hangar.controller, plan_id=plan.pk)
    assert [slot.task_id for slot in plan.slots.all()] == [hangar.purge.pk]


def test_a_new_plan_replaces_the_published_one_and_keeps_its_slots_where_it_can(hangar: Hangar) -> None:
    first = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    before = {slot.task_id: (slot.starts_at, slot.bay_id) for slot in first.slots.all()}
    other = AircraftMaker(
        operator=hangar.workshop.operator,
        base=hangar.base,
        aircraft_type=hangar.workshop.house.aircraft_type,
    )
    GroundTime.objects.create(aircraft=other, base=hangar.base, starts_at=wall(0, 6), ends_at=wall(3, 18))
    extra = TaskMaker(aircraft=other, code="slinger-check")
    second = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    first.refresh_from_db()
    assert (first.state, second.state) == (S.REPLACED, S.PUBLISHED)
    after = {slot.task_id: (slot.starts_at, slot.bay_id) for slot in second.slots.all()}
    assert after.pop(extra.pk)
    assert after == before


def test_a_published_plan_stays_in_force_while_another_is_worked_out(hangar: Hangar) -> None:
    published = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    draft = hangar.planned()
    published.refresh_from_db()
    assert (published.state, draft.state) == (S.PUBLISHED, S.DRAFT)
    discard_draft(actor=hangar.controller, plan_id=draft.pk)
    assert WeekPlan.objects.get() == published
    with pytest.raises(Conflict):
        discard_draft(actor=hangar.controller, plan_id=published.pk)


def test_a_task_without_a_place_in_the_new_plan_is_open_again(hangar: Hangar) -> None:
    publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    hangar.workshop.operator.equipment.all().update(withdrawn_on=MONDAY)
    publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    hangar.test.refresh_from_db()
    assert (hangar.test.state, hangar.test.assigned_to) == (TaskState.RAISED, None)


def test_work_begun_keeps_its_slot_and_its_bay(hangar: Hangar) -> None:
    first = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    begun = first.slots.get(task=hangar.purge)
    Task.objects.filter(pk=hangar.purge.pk).update(state="in_work", started_at=wall(0, 8))
    second = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    kept = second.slots.get(task=hangar.purge)
    assert (kept.starts_at, kept.bay_id) == (begun.starts_at, begun.bay_id)


def test_a_week_under_way_is_not_planned_into_the_past(hangar: Hangar) -> None:
    with frozen(wall(1, 11, 5)):
        plan = hangar.planned()
    assert min(slot.starts_at for slot in plan.slots.all()) == wall(1, 11, 15)


def test_a_draft_opened_by_hand_is_a_copy_of_what_is_published(hangar: Hangar) -> None:
    published = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    draft = open_draft(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    assert draft.state == S.DRAFT
    copied = {(slot.task_id, slot.starts_at) for slot in draft.slots.all()}
    assert copied == {(slot.task_id, slot.starts_at) for slot in published.slots.all()}
    again = open_draft(actor=hangar.controller, base_id=hangar.base.pk, monday=MONDAY)
    assert again.pk == draft.pk


def test_two_ground_times_that_overlap_make_the_plan_fail_with_the_remedy(hangar: Hangar) -> None:
    aircraft = hangar.workshop.aircraft
    GroundTime.objects.create(aircraft=aircraft, base=hangar.base, starts_at=wall(1, 0), ends_at=wall(2, 0))
    plan = hangar.planned()
    assert plan.state == S.FAILED
    assert plan.outcome["problems"] == [
        f"windows[{aircraft}]: two ground times overlap; join or shorten them"
    ]


def test_a_bay_that_closes_within_the_week_is_used_before_that_day(db: None) -> None:
    hangar = make_hangar(bays=1)
    Bay.objects.update(closed_on=MONDAY + timedelta(days=1))
    Shift.objects.filter(starts_at__lt=wall(1, 0)).delete()
    assert hangar.planned().slots.count() == 0


def test_people_of_another_base_are_not_counted_on(hangar: Hangar) -> None:
    Shift.objects.all().delete()
    other = make_house()
    stranger = make_person("technician", other.operator, base=other.base)
    Shift.objects.create(base=other.base, person=stranger, starts_at=wall(0, 8), ends_at=wall(0, 16))
    assert hangar.planned().slots.count() == 0
    assert actor_of(stranger).operator_id != hangar.workshop.operator.pk


def test_nothing_asked_for_means_nothing_to_solve(db: None) -> None:
    assert solve_asked(seconds=1) == 0
