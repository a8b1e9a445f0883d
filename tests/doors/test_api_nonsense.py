"""Nonsense at every writing door of the API: refused in words, never the server's own fault, and no row written."""

from __future__ import annotations

import json

import pytest
from rest_framework.test import APIClient

from fleet.common.actor import Role
from fleet.models import Membership
from tests.doors.doors import Door, api_doors
from tests.doors.examples import EXAMPLES, NOT_BY_EXAMPLE, Form, send
from tests.doors.knocking import everybody, must_be_well_answered, visit
from tests.doors.nonsense import NO_BODIES, NO_NUMBERS, NO_WORDS, UNREADABLE, shape_of, spoiled
from tests.doors.places import address_of, values_of
from tests.doors.scene import Scene
from tests.makers import api_of

pytestmark = pytest.mark.django_db

WRITES = [door for door in api_doors() if door.writes]
BODIES = {**EXAMPLES, **NOT_BY_EXAMPLE}
TAKES_JSON = [door for door in WRITES if not isinstance(BODIES[str(door)], Form)]
JSON = "application/json"
# Counting failed log-ins locks a name out, which is no fault of the body.
REFUSED = {400, 403, 404, 409, 422, 429}


@pytest.fixture(scope="module")
def clients(scene: Scene) -> dict[str, APIClient]:
    """The technician holds every role here, so that no nonsense stops at the policy."""
    place = {"operator": scene.house.operator, "user": scene.person(Role.TECHNICIAN)}
    for role in Role:
        Membership.objects.get_or_create(**place, role=role, defaults={"base": scene.house.base})
    return everybody(scene, api_of)


def refusal(
    scene: Scene, clients: dict[str, APIClient], door: Door, body: bytes, media_type: str = JSON
) -> int:
    """What a body is refused with, 0 if it is taken; a refusal is well answered and writes nothing."""
    with visit(scene, clients, Role.TECHNICIAN) as (client, notes):
        address, headers = address_of(scene, door, "/api/v1/"), {"If-Match": "*"}
        answer = client.generic(door.method.upper(), address, body, content_type=media_type, headers=headers)
    must_be_well_answered(answer, (door, body[:2_000]))
    if answer.status_code < 400:
        return 0
    assert notes.books == [], (door, body[:2_000])
    return int(answer.status_code)


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_a_body_that_cannot_be_read_is_refused(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    told = {words: refusal(scene, clients, door, body) for words, body in UNREADABLE.items()}

    assert set(told.values()) <= ({400} if door in TAKES_JSON else {400, 415}), told
    assert refusal(scene, clients, door, b"words", "text/plain") == 415
    assert refusal(scene, clients, door, b"words", "multipart/form-data") == 400


@pytest.mark.parametrize("door", TAKES_JSON, ids=str)
def test_a_field_that_makes_no_sense_breaks_nothing(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    example = BODIES[str(door)]
    body = dict(example(scene) if callable(example) else example)
    bodies = [*NO_BODIES, *(spoilt for _, _, spoilt in spoiled(body, shape_of(door)))]
    told = {refusal(scene, clients, door, json.dumps(one).encode()) for one in bodies}

    assert told <= {0, *REFUSED}
    assert not body or told & REFUSED, f"{door} takes whatever comes"


@pytest.mark.parametrize("door", [door for door in WRITES if door.parameters], ids=str)
def test_what_an_address_names_and_is_not_there_is_not_found(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    known = values_of(scene, door)
    for name, value in known.items():
        for nothing in NO_NUMBERS if isinstance(value, int) else NO_WORDS:
            with visit(scene, clients, Role.TECHNICIAN) as (client, notes):
                answer = send(client, scene, door, "/api/v1/" + door.path.format(**{**known, name: nothing}))

            assert answer.status_code == (400 if nothing == "%00" else 404), (
                door,
                name,
                nothing,
                answer.content,
            )
            must_be_well_answered(answer, door)
            assert notes.books == []
