"""Every door of the API × everybody who may knock: nobody, each role, and a neighbour's whole staff in one person."""

from __future__ import annotations

import pytest
from rest_framework.permissions import AllowAny
from rest_framework.test import APIClient

from fleet.common.actor import Role
from tests.doors.doors import Door, api_doors
from tests.doors.examples import EXAMPLES, NOT_BY_EXAMPLE, OWN, QUESTIONS
from tests.doors.knocking import given_away, knock, must_be_a_problem, must_be_well_answered
from tests.doors.published import must_be_as_published, schema
from tests.doors.scene import Scene

pytestmark = pytest.mark.django_db

DOORS = api_doors()
READS = [door for door in DOORS if not door.writes]
WRITES = [door for door in DOORS if door.writes]
# Where webhooks go is the administrator's to know; everything else every role reads.
# That somebody took the whole of an aircraft away is noted.
NOTED = {"GET aircraft/{registration}/export/": ["INSERT fleet_trailentry"]}
# Papers take long to set; who does the work and who only reads stand for all.
PAPER_READERS = (Role.TECHNICIAN, Role.AUDITOR)
FOR_SOME_EYES = {"GET webhook-endpoints/": {Role.ADMINISTRATOR}}


def test_the_published_schema_names_exactly_the_doors_there_are() -> None:
    published = {
        f"{method.upper()} {path.removeprefix('/api/v1/')}"
        for path, methods in schema()["paths"].items()
        for method in methods
    }

    assert published == {str(door) for door in DOORS}


def test_every_example_belongs_to_a_door() -> None:
    doors = {str(door) for door in WRITES}

    assert {*EXAMPLES, *NOT_BY_EXAMPLE, *OWN, *QUESTIONS} <= doors


@pytest.mark.parametrize("door", DOORS, ids=str)
def test_nobody_is_told_to_sign_in(door: Door, scene: Scene, clients: dict[str, APIClient]) -> None:
    answer, notes = knock(clients, "nobody", scene, door)

    if AllowAny in door.view.cls.permission_classes:
        assert door.path in ("phone/session/", "phone/sign-in/")
        must_be_well_answered(answer, door)
    else:
        assert answer.status_code == 401
        must_be_a_problem(answer, door)
        assert answer.has_header("WWW-Authenticate")
    assert set(notes.books) <= ({"UPDATE fleet_user"} if door.path == "phone/sign-in/" else set())


@pytest.mark.parametrize("door", READS, ids=str)
def test_reading_answers_every_role_and_writes_nothing(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    for role in Role if not door.path.endswith(("pdf/", ".pdf", "export/")) else PAPER_READERS:
        answer, notes = knock(clients, role, scene, door)

        if role in FOR_SOME_EYES.get(str(door), set(Role)):
            assert answer.status_code == 200, (door, role, answer.read_text[:2000])
            must_be_as_published(answer, door)
        else:
            assert answer.status_code == 403, (door, role, answer.read_text[:2000])
            must_be_a_problem(answer, door)
        assert notes.books == NOTED.get(str(door), []), (door, role)


@pytest.mark.parametrize("door", READS, ids=str)
def test_a_neighbour_finds_nothing_of_ours(door: Door, scene: Scene, clients: dict[str, APIClient]) -> None:
    answer, _ = knock(clients, "stranger", scene, door)

    must_be_well_answered(answer, door)
    if door.parameters and door.path != "reminder-ladders/{consequence}/":
        assert answer.status_code == 404, (door, answer.read_text[:500])
    else:
        assert answer.status_code == 200, (door, answer.read_text[:500])
    assert given_away(scene, answer.read_text, door) == []
