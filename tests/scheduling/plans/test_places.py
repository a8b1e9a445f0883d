"""Bays, shifts and ground times: entered over a stretch of days, refused where they overlap."""

from __future__ import annotations

from datetime import date, time

import pytest

from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from scheduling.models import Bay, GroundTime, Shift
from scheduling.services.plans import publish_week
from scheduling.services.week_places import (
    Pattern,
    add_bay,
    add_ground_times,
    add_shifts,
    close_bay,
    remove_ground_time,
    remove_shift,
)
from tests.makers import make_house
from tests.scheduling.plans.week import MONDAY, Hangar, wall

NEXT = Pattern(date(2025, 3, 17), date(2025, 3, 23), time(8), time(16), (0, 1, 2, 3, 4))
NIGHTS = Pattern(date(2025, 3, 17), date(2025, 3, 18), time(22), time(6))


def test_shifts_are_entered_over_weekdays(hangar: Hangar) -> None:
    person = hangar.person("technician")
    made = add_shifts(actor=hangar.controller, base_id=hangar.base.pk, person_id=person.pk, pattern=NEXT)
    assert len(made) == 5
    assert (made[0].starts_at, made[0].ends_at) == (wall(7, 8), wall(7, 16))


def test_a_night_ends_on_the_next_day(hangar: Hangar) -> None:
    made = add_ground_times(
        actor=hangar.controller,
        base_id=hangar.base.pk,
        aircraft_id=hangar.workshop.aircraft.pk,
        pattern=NIGHTS,
    )
    assert [(one.starts_at, one.ends_at) for one in made] == [
        (wall(7, 22), wall(8, 6)),
        (wall(8, 22), wall(9, 6)),
    ]


def test_one_that_overlaps_is_refused_and_none_is_written(hangar: Hangar) -> None:
    pattern = Pattern(date(2025, 3, 12), date(2025, 3, 14), time(15), time(18))
    with pytest.raises(Invalid) as refused:
        add_shifts(
            actor=hangar.controller,
            base_id=hangar.base.pk,
            person_id=hangar.person("technician").pk,
            pattern=pattern,
        )
    assert refused.value.code == "overlaps"
    assert "has a shift from 12\u00a0Mar\u00a02025, 08:00\u00a0UTC" in refused.value.reasons[0].detail
    assert Shift.objects.count() == 6
    with pytest.raises(Invalid):
        add_ground_times(
            actor=hangar.controller,
            base_id=hangar.base.pk,
            aircraft_id=hangar.workshop.aircraft.pk,
            pattern=pattern,
        )
    assert GroundTime.objects.count() == 1


@pytest.mark.parametrize(
    ("pattern", "field"),
    [
        (Pattern(date(2025, 3, 18), date(2025, 3, 17), time(8), time(16)), "last_day"),
        (Pattern(date(2025, 3, 18), date(2025, 12, 17), time(8), time(16)), "last_day"),
        (Pattern(date(2025, 1, 1), date(2025, 1, 2), time(8), time(16)), "last_day"),
        (Pattern(date(2025, 3, 18), date(2025, 3, 19), time(8), time(16), ()), "weekdays"),
        (Pattern(date(2025, 3, 18), date(2025, 3, 19), time(8), time(16), (5,)), "weekdays"),
    ],
)
def test_days_that_make_no_sense_are_refused(hangar: Hangar, pattern: Pattern, field: str) -> None:
    with pytest.raises(Invalid) as refused:
        add_shifts(
            actor=hangar.controller,
            base_id=hangar.base.pk,
            person_id=hangar.person("technician").pk,
            pattern=pattern,
        )
    assert refused.value.reasons[0].field == field
    assert refused.value.reasons[0].remedy
    assert Shift.objects.count() == 6


def test_a_bay_has_a_name_of_its_own(hangar: Hangar) -> None:
    assert add_bay(actor=hangar.controller, base_id=hangar.base.pk, name="  Bay   3 ").name == "Bay 3"
    for name in ("Bay 3", "", "x" * 41):
        with pytest.raises(Invalid):
            add_bay(actor=hangar.controller, base_id=hangar.base.pk, name=name)
    assert Bay.objects.count() == 3


def test_a_bay_with_published_work_is_not_closed_before_it(hangar: Hangar) -> None:
    plan = publish_week(actor=hangar.controller, plan_id=hangar.planned().pk)
    bay = plan.slots.first().bay  # type: ignore[union-attr]
    assert bay is not None
    with pytest.raises(Conflict) as refused:
        close_bay(actor=hangar.controller, bay_id=bay.pk, day=MONDAY)
    assert refused.value.code == "bay_in_use"
    assert close_bay(actor=hangar.controller, bay_id=bay.pk, day=date(2025, 3, 17)).closed_on
    assert close_bay(actor=hangar.controller, bay_id=bay.pk, day=None).closed_on is None


@pytest.mark.parametrize("role", ["technician", "inspector", "auditor", "administrator"])
def test_who_does_not_plan_enters_and_removes_nothing(hangar: Hangar, role: str) -> None:
    actor = hangar.actor(role)
    shift, ground = Shift.objects.first(), GroundTime.objects.get()
    assert shift is not None
    with pytest.raises(NotAllowed):
        add_bay(actor=actor, base_id=hangar.base.pk, name="Bay 9")
    with pytest.raises(NotAllowed):
        remove_shift(actor=actor, shift_id=shift.pk)
    with pytest.raises(NotAllowed):
        remove_ground_time(actor=actor, ground_time_id=ground.pk)
    assert (Bay.objects.count(), Shift.objects.count(), GroundTime.objects.count()) == (2, 6, 1)


def test_a_strangers_things_are_not_found(hangar: Hangar) -> None:
    stranger = make_house().actor("controller")
    shift, bay = Shift.objects.first(), Bay.objects.first()
    assert shift is not None
    assert bay is not None
    with pytest.raises(NotFound):
        remove_shift(actor=stranger, shift_id=shift.pk)
    with pytest.raises(NotFound):
        close_bay(actor=stranger, bay_id=bay.pk, day=None)
    with pytest.raises(NotFound):
        remove_ground_time(actor=stranger, ground_time_id=GroundTime.objects.get().pk)
    assert (Bay.objects.count(), Shift.objects.count(), GroundTime.objects.count()) == (2, 6, 1)


def test_shifts_and_ground_times_can_be_taken_away(hangar: Hangar) -> None:
    shift = Shift.objects.first()
    assert shift is not None
    remove_shift(actor=hangar.controller, shift_id=shift.pk)
    remove_ground_time(actor=hangar.controller, ground_time_id=GroundTime.objects.get().pk)
    assert (Shift.objects.count(), GroundTime.objects.count()) == (5, 0)
