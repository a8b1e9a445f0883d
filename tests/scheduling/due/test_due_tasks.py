"""Open tasks follow the items they answer: variations, what was last done, new limits; never past what else asks."""

from __future__ import annotations

from datetime import date

import pytest

from scheduling.models import Applicability, Task
from scheduling.selectors.tasks import by_when, task_for
from scheduling.services.applicability import LastDone, set_last_done
from scheduling.services.due import raise_due_tasks, refresh_due
from scheduling.services.requirements import WrittenRequirement, write_requirement
from scheduling.services.variations import Grant, grant_variation, withdraw_variation, write_table
from tests.makers import House, browser_of, make_house
from tests.scheduling.due.makers import TABLE, apply, make_procedure, make_requirement
from tests.words import plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> House:
    return make_house(minutes=65_500)


@pytest.fixture
def item(house: House) -> Applicability:
    """A hundred hours due at 65 600 minutes, 1093:20 h; 1:40 h are left."""
    table = write_table(actor=house.actor("director"), data=TABLE)
    procedure = make_procedure(house.operator, "hundred-hours")
    row = make_requirement(house.operator, procedure=procedure, variation_table=table)
    applied = apply(row, house.aircraft, day=date(2025, 3, 1), hours=59_600)
    refresh_due([house.aircraft.pk])
    return applied


def raised(house: House) -> Task:
    (task,) = raise_due_tasks(actor=house.actor("controller")).raised
    return task


def grant(house: House, item: Applicability, amount: str = "10:00") -> int:
    asked = Grant(item.pk, amount, "no bay before Friday")
    return grant_variation(actor=house.actor("director"), grant=asked).pk


def reasons(task: Task) -> list[str]:
    return [plain(cause.words) for cause in task.causes.all()]


def test_a_variation_lets_the_open_task_wait_as_long_and_says_so_there(
    house: House, item: Applicability
) -> None:
    task = raised(house)
    granted = grant(house, item)
    task.refresh_from_db()
    assert (task.latest_minutes, task.version) == (66_200, 2)
    assert plain(by_when(task_for(house.actor("controller"), task.pk))) == "before 1 103:20 h"
    director = house.actor("director")
    assert reasons(task)[1:] == [
        f"Variation of 10:00 h granted beyond 1 093:20 h by {director.name}, this once (PV-17): no bay before Friday"
    ]
    withdraw_variation(actor=director, variation_id=granted, reason="bay found")
    task.refresh_from_db()
    assert task.latest_minutes == 65_600
    assert reasons(task)[-1] == f"Variation withdrawn: bay found ({director.name})"


def test_the_page_of_a_task_shows_the_variation_and_that_nothing_must_be_at_hand(
    house: House, item: Applicability
) -> None:
    task = raised(house)
    grant(house, item)
    page = plain(browser_of(house.person("technician")).get(f"/tasks/{task.pk}/").content.decode())
    assert "Variation of 10:00 h granted beyond 1 093:20 h" in page
    assert "Before 1 103:20 h" in page
    assert "The procedure names no equipment and no fluid." in page


def test_a_task_raised_after_a_variation_names_it(house: House, item: Applicability) -> None:
    grant(house, item)
    task = raised(house)
    assert task.latest_minutes == 66_200
    assert reasons(task) == [
        "100-hour check (check-100) falls due at 1 093:20 h (by the variation granted at 1 103:20 h)"
    ]


def test_a_task_that_something_else_wants_sooner_does_not_wait_for_the_variation(
    house: House, item: Applicability
) -> None:
    task = raised(house)
    Task.objects.filter(pk=task.pk).update(latest_minutes=65_560)
    grant(house, item)
    task.refresh_from_db()
    assert task.latest_minutes == 65_560


def test_a_task_that_answers_two_items_waits_no_longer_than_the_other_allows(
    house: House, item: Applicability
) -> None:
    procedure = item.requirement.procedure
    other = make_requirement(house.operator, "other", procedure=procedure, title="Other check")
    apply(other, house.aircraft, day=date(2025, 3, 1), hours=59_900)
    refresh_due([house.aircraft.pk])
    work = raise_due_tasks(actor=house.actor("controller"))
    task = work.raised[0]
    assert work.joined == (task,)
    grant(house, item)
    task.refresh_from_db()
    assert task.latest_minutes == 65_900


def test_what_was_last_done_and_new_limits_move_the_open_task(house: House, item: Applicability) -> None:
    task, controller = raised(house), house.actor("controller")
    done = LastDone(date(2025, 3, 2), {"hours": 59_700}, "card 3")
    set_last_done(actor=controller, applicability_id=item.pk, last_done=done)
    task.refresh_from_db()
    assert task.latest_minutes == 65_700
    wanted = WrittenRequirement(
        code="check-100",
        title="100-hour check",
        ata="05-20",
        source="Programme rev 4",
        limits={"measure": "hours", "every": "110:00"},
        procedure="hundred-hours",
    )
    write_requirement(actor=controller, wanted=wanted)
    task.refresh_from_db()
    assert task.latest_minutes == 66_300
