"""The life of a task: raised once, started in order, closed by proof, withdrawn with a reason."""

from contextlib import suppress
from typing import Any

import pytest

from fleet.common.actor import Role
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.models import TrailEntry
from fleet.selectors.meters import Counters
from scheduling.models import ProcedureVersion, Task, TaskCause
from scheduling.services.accomplishment import Completion
from scheduling.services.tasks import (
    WantedTask,
    assign_task,
    complete_task,
    hand_in_task,
    raise_task,
    return_task,
    start_task,
    withdraw_task,
)
from tests.makers import at, make_house
from tests.scheduling.makers import TaskMaker, Workshop, make_workshop

pytestmark = pytest.mark.django_db
TOTALS = Counters(60_000, 1_200, 1_200)


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop()


def want(workshop: Workshop, **values: Any) -> WantedTask:
    usual = {"procedure_code": "panel-purge", "title": "", "why": "the controller asks for it"}
    return WantedTask(aircraft_id=workshop.aircraft.pk, **(usual | values))


def test_wanted_work_is_raised_once_and_joined_afterwards(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    task, was_there = raise_task(actor=actor, wanted=want(workshop, latest_day=at(10).date()))
    again, was_there_then = raise_task(
        actor=actor, wanted=want(workshop, why="it falls due as well", latest_day=at(5).date())
    )
    assert (was_there, was_there_then, again) == (False, True, task)
    assert (again.title, str(again.latest_day)) == ("Panel purge", "2025-03-08")
    assert [cause.words for cause in task.causes.all()] == [
        "the controller asks for it",
        "it falls due as well",
    ]


def test_the_same_want_again_adds_no_second_cause(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    for _ in range(2):
        task, _ = raise_task(actor=actor, wanted=want(workshop))
    assert task.causes.count() == 1


@pytest.mark.parametrize(
    ("values", "field"), [({"procedure_code": "no-such"}, "procedure"), ({"why": " "}, "why")]
)
def test_a_want_without_sense_names_its_field(workshop: Workshop, values: dict[str, str], field: str) -> None:
    with pytest.raises(Invalid) as refused:
        raise_task(actor=workshop.house.actor(Role.CONTROLLER), wanted=want(workshop, **values))
    assert refused.value.reasons[0].field == field
    assert Task.objects.count() == 0


def test_starting_binds_the_current_version_and_marks_it_used(workshop: Workshop) -> None:
    purge, _ = workshop.replace_panel("first").raised
    task = start_task(actor=workshop.house.actor(Role.TECHNICIAN), task_id=purge.pk, at=at(hours=1))
    version = ProcedureVersion.objects.get(procedure__code="panel-purge")
    assert (task.state, task.procedure_version, task.started_at) == ("in_work", version, at(hours=1))
    assert version.first_used_at is not None


def test_a_flow_test_does_not_start_before_its_purge_is_closed(workshop: Workshop) -> None:
    _, test = workshop.replace_panel("first").raised
    with pytest.raises(Conflict) as refused:
        start_task(actor=workshop.house.actor(Role.TECHNICIAN), task_id=test.pk)
    assert refused.value.reasons[0].detail == "Panel purge is raised"
    test.refresh_from_db()
    assert test.state == "raised"


def test_a_withdrawn_purge_no_longer_holds_the_flow_test(workshop: Workshop) -> None:
    purge, test = workshop.replace_panel("first").raised
    withdraw_task(actor=workshop.house.actor(Role.DIRECTOR), task_id=purge.pk, reason="lines were not opened")
    assert start_task(actor=workshop.house.actor(Role.TECHNICIAN), task_id=test.pk).state == "in_work"


def test_failed_work_stands_open_again_with_its_words(workshop: Workshop) -> None:
    purge, _ = workshop.replace_panel("first").raised
    actor = workshop.house.actor(Role.TECHNICIAN)
    start_task(actor=actor, task_id=purge.pk)
    hand_in_task(actor=actor, task_id=purge.pk)
    task = return_task(actor=actor, task_id=purge.pk, words="record 1 says FAIL")
    assert (task.state, task.started_at, task.procedure_version) == ("raised", None, None)
    assert task.causes.last().words == "record 1 says FAIL"


def test_a_task_closes_on_proof_only(workshop: Workshop) -> None:
    purge, _ = workshop.replace_panel("first").raised
    actor = workshop.house.actor(Role.TECHNICIAN)
    start_task(actor=actor, task_id=purge.pk)
    with pytest.raises(Conflict, match="awaiting signature"):
        complete_task(actor=actor, completion=Completion(purge.pk, at(1), TOTALS, "R-1"))
    hand_in_task(actor=actor, task_id=purge.pk)
    with pytest.raises(Invalid, match="signed record only"):
        complete_task(actor=actor, completion=Completion(purge.pk, at(1), TOTALS, ""))
    task = complete_task(actor=actor, completion=Completion(purge.pk, at(1), TOTALS, "R-1"))
    assert (task.state, task.closed_at, task.closed_minutes, task.proof) == ("closed", at(1), 60_000, "R-1")


def test_the_controller_gives_a_task_to_a_technician_and_takes_it_back(workshop: Workshop) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    controller, technician = workshop.house.actor("controller"), workshop.house.person("technician")
    given = assign_task(actor=controller, task_id=task.pk, person_id=technician.pk)
    assert (given.assigned_to, given.version) == (technician, 2)
    assert assign_task(actor=controller, task_id=task.pk, person_id=None).assigned_to is None


def test_a_technician_takes_a_free_task_but_not_somebody_elses(workshop: Workshop) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    technician, inspector = workshop.house.actor("technician"), workshop.house.actor("inspector")
    assert (
        assign_task(actor=technician, task_id=task.pk, person_id=technician.user_id).assigned_to_id
        == technician.user_id
    )
    with pytest.raises(NotAllowed):
        assign_task(actor=inspector, task_id=task.pk, person_id=inspector.user_id)


def test_work_is_given_to_people_who_do_work(workshop: Workshop) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    with pytest.raises(Invalid, match="has no role that does this work"):
        assign_task(
            actor=workshop.house.actor("controller"),
            task_id=task.pk,
            person_id=workshop.house.person("auditor").pk,
        )
    with pytest.raises(NotFound):
        assign_task(
            actor=workshop.house.actor("controller"),
            task_id=task.pk,
            person_id=make_house().person("technician").pk,
        )


def test_what_answers_a_defect_is_not_withdrawn(workshop: Workshop) -> None:
    task = TaskMaker(aircraft=workshop.aircraft, is_defect=True)
    with pytest.raises(NotAllowed, match="closed by work, not withdrawn"):
        withdraw_task(actor=workshop.house.actor("director"), task_id=task.pk, reason="no wish")


COMMANDS = {
    "raise": lambda actor, task: raise_task(
        actor=actor,
        wanted=WantedTask(task.aircraft_id, task.procedure.code, "", "because"),
    ),
    "assign": lambda actor, task: assign_task(actor=actor, task_id=task.pk, person_id=None),
    "start": lambda actor, task: start_task(actor=actor, task_id=task.pk),
    "hand in": lambda actor, task: hand_in_task(actor=actor, task_id=task.pk),
    "return": lambda actor, task: return_task(actor=actor, task_id=task.pk, words="x"),
    "complete": lambda actor, task: complete_task(
        actor=actor, completion=Completion(task.pk, at(1), TOTALS, "R-1")
    ),
    "withdraw": lambda actor, task: withdraw_task(actor=actor, task_id=task.pk, reason="x"),
}
ALLOWED = {
    "raise": {"controller", "director"},
    "assign": {"controller", "director"},
    "start": {"technician", "inspector"},
    "hand in": {"technician", "inspector"},
    "return": {"technician", "inspector"},
    "complete": {"technician", "inspector"},
    "withdraw": {"controller", "director"},
}


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("command", list(COMMANDS))
def test_each_command_is_for_its_roles_only(workshop: Workshop, command: str, role: Role) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    before = (task.state, task.version, TrailEntry.objects.count(), TaskCause.objects.count())
    if role in ALLOWED[command]:
        with suppress(Conflict):
            COMMANDS[command](workshop.house.actor(role), task)
        return
    with pytest.raises(NotAllowed):
        COMMANDS[command](workshop.house.actor(role), task)
    task.refresh_from_db()
    assert (task.state, task.version, TrailEntry.objects.count(), TaskCause.objects.count()) == before


@pytest.mark.parametrize("command", sorted(set(COMMANDS) - {"raise"}))
def test_another_operators_task_is_not_found(workshop: Workshop, command: str) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    stranger = make_house().actor("controller" if command in ("assign", "withdraw") else "technician")
    with pytest.raises(NotFound):
        COMMANDS[command](stranger, task)
