"""The operating status of real rows: reasons, when it worsens, how much it asks of the database."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.common.actor import Role
from fleet.common.clock import now
from scheduling.models import Consequence, Task
from scheduling.selectors.board import BoardQuery, board, owed
from scheduling.selectors.status import status_of
from scheduling.selectors.tasks import TaskQuery, by_when, task_for, task_list
from scheduling.services.tasks import assign_task, start_task
from scheduling.status import FlightState, ReasonCode
from tests.makers import AircraftMaker, at, make_house
from tests.scheduling.makers import TaskMaker, Workshop, make_relief, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop()


def state_of(workshop: Workshop) -> FlightState:
    return status_of([workshop.aircraft.pk])[workshop.aircraft.pk].state


def test_an_aircraft_without_open_work_is_free_to_fly(workshop: Workshop) -> None:
    assert state_of(workshop) is FlightState.FREE_TO_FLY


def test_open_work_on_ice_protection_without_relief_is_not_releasable(workshop: Workshop) -> None:
    workshop.replace_panel("first")
    status = status_of([workshop.aircraft.pk])[workshop.aircraft.pk]
    assert status.state is FlightState.NOT_RELEASABLE
    assert [reason.words for reason in status.reasons] == [
        "Panel purge is open and no approved relief is running.",
        "Panel flow test is open and no approved relief is running.",
    ]


def test_relief_restricts_instead_of_grounding_and_says_until_when(workshop: Workshop) -> None:
    workshop.replace_panel("first")
    ends = now() + timedelta(days=3)
    make_relief(workshop.aircraft, workshop.house.person(Role.DIRECTOR), ends_at=ends)
    status = status_of([workshop.aircraft.pk])[workshop.aircraft.pk]
    assert (status.state, status.worsens_at) == (FlightState.RESTRICTED_ICING, ends)
    assert {reason.code for reason in status.reasons} == {
        ReasonCode.RELIEF_RUNNING,
        ReasonCode.OPEN_UNDER_RELIEF,
    }


def test_relief_counted_in_flights_restricts_without_a_moment(workshop: Workshop) -> None:
    workshop.replace_panel("first")
    make_relief(workshop.aircraft, workshop.house.person(Role.DIRECTOR), ends_at=None, unit="flights")
    status = status_of([workshop.aircraft.pk])[workshop.aircraft.pk]
    assert (status.state, status.worsens_at) == (FlightState.RESTRICTED_ICING, None)
    assert "until its flights, hours or flight days are used up" in status.reasons[0].words


def test_relief_that_ended_is_not_releasable_again(workshop: Workshop) -> None:
    make_relief(workshop.aircraft, workshop.house.person(Role.DIRECTOR), ends_at=at(10))
    assert state_of(workshop) is FlightState.NOT_RELEASABLE


def test_work_begun_grounds_whatever_it_is(workshop: Workshop) -> None:
    purge, _ = workshop.replace_panel("first").raised
    make_relief(workshop.aircraft, workshop.house.person(Role.DIRECTOR))
    assert state_of(workshop) is FlightState.RESTRICTED_ICING
    start_task(actor=workshop.house.actor(Role.TECHNICIAN), task_id=purge.pk)
    status = status_of([workshop.aircraft.pk])[workshop.aircraft.pk]
    assert status.state is FlightState.NOT_RELEASABLE
    assert status.reasons[0].code is ReasonCode.WORK_BEGUN


@pytest.mark.parametrize(
    ("latest_day", "latest_minutes", "state"),
    [
        (at(3000).date(), None, FlightState.FREE_TO_FLY),
        (at(1).date(), None, FlightState.NOT_RELEASABLE),
        (None, 60_000, FlightState.FREE_TO_FLY),
        (None, 59_999, FlightState.NOT_RELEASABLE),
    ],
)
def test_work_within_days_or_hours_binds_once_they_are_over(
    workshop: Workshop, latest_day: object, latest_minutes: int | None, state: FlightState
) -> None:
    task = TaskMaker(
        aircraft=workshop.aircraft,
        consequence=Consequence.AIRWORTHINESS,
        before="within_days",
        latest_day=latest_day,
        latest_minutes=latest_minutes,
    )
    assert state_of(workshop) is state
    words = by_when(task_for(workshop.house.actor(Role.CONTROLLER), task.pk))
    assert words.startswith("overdue: ") is (state is FlightState.NOT_RELEASABLE)


def fleet_of(workshop: Workshop, number: int) -> None:
    for _ in range(number):
        aircraft = AircraftMaker(
            operator=workshop.operator,
            base=workshop.house.base,
            aircraft_type=workshop.house.aircraft_type,
        )
        for _ in range(2):
            TaskMaker(aircraft=aircraft)
        make_relief(aircraft, workshop.house.person(Role.DIRECTOR))


def test_board_status_and_lists_ask_as_much_of_twenty_aircraft_as_of_ten(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.DIRECTOR)
    asks = {
        "status": lambda: status_of(board_ids),
        "board": lambda: board(actor),
        "owed": lambda: owed(actor),
        "tasks": lambda: [
            (task.open_waits, task.why, by_when(task), str(task.aircraft.base))
            for task in task_list(actor, TaskQuery())
        ],
    }
    asked: dict[str, list[int]] = {name: [] for name in asks}
    for _ in range(2):
        fleet_of(workshop, 10)
        board_ids = list(workshop.operator.aircraft.values_list("pk", flat=True))
        for name, ask in asks.items():
            with CaptureQueriesContext(connection) as queries:
                ask()
            asked[name].append(len(queries))
    assert all(ten == twenty for ten, twenty in asked.values()), asked
    assert asked["tasks"][0] == 3
    assert max(ten for ten, _ in asked.values()) <= 16, asked


def test_the_board_counts_filters_and_puts_the_worst_first(workshop: Workshop) -> None:
    calm = AircraftMaker(
        operator=workshop.operator, base=workshop.house.base, aircraft_type=workshop.house.aircraft_type
    )
    workshop.replace_panel("first")
    actor = workshop.house.actor(Role.AUDITOR)
    seen = board(actor)
    assert [row.aircraft for row in seen.rows] == [workshop.aircraft, calm]
    assert [row.open_tasks for row in seen.rows] == [2, 0]
    assert (seen.total, seen.counts[FlightState.NOT_RELEASABLE], seen.counts[FlightState.FREE_TO_FLY]) == (
        2,
        1,
        1,
    )
    assert [row.aircraft for row in board(actor, BoardQuery(status="free_to_fly")).rows] == [calm]
    assert [row.aircraft for row in board(actor, BoardQuery(search=calm.registration)).rows] == [calm]
    assert board(actor, BoardQuery(base="elsewhere")).rows == ()
    assert board(make_house().actor(Role.AUDITOR)).total == 1


def test_what_is_owed_names_what_it_stops_and_who_owns_it(workshop: Workshop) -> None:
    purge, _ = workshop.replace_panel("first").raised
    technician = workshop.house.person(Role.TECHNICIAN)
    assign_task(actor=workshop.house.actor(Role.CONTROLLER), task_id=purge.pk, person_id=technician.pk)
    lines = owed(workshop.house.actor(Role.DIRECTOR))
    assert [(line.reason.task_id, line.stops, line.owner) for line in lines] == [
        (purge.pk, "no flight", technician),
        (Task.objects.get(procedure__code="panel-flow-test").pk, "no flight", None),
    ]


def test_tasks_are_listed_by_whose_they_are_by_state_and_by_words(workshop: Workshop) -> None:
    purge, test = workshop.replace_panel("first").raised
    technician = workshop.house.person(Role.TECHNICIAN)
    assign_task(actor=workshop.house.actor(Role.CONTROLLER), task_id=test.pk, person_id=technician.pk)
    actor = workshop.house.actor(Role.TECHNICIAN)

    def found(**query: str) -> list[Task]:
        return list(task_list(actor, TaskQuery(**query)))

    assert found(whose="mine") == [test]
    assert found(whose="free") == [purge]
    assert found(whose="base") == [purge, test]
    assert found(search="flow") == [test]
    assert found(state="closed") == []
    assert found(sort="-title") == [purge, test]
    assert found(sort="title") == [test, purge]
    assert [wait.first for wait in found(search="flow")[0].open_waits] == [purge]
