"""Every command of the fleet's API × every role: who may, who may not, and that a refusal leaves nothing behind."""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from django.db import transaction

from fleet.common.actor import Role
from tests import makers
from tests.fleet.api.doors import ADM, DOORS, READS, C, D, T, address_of, make_scene, rows, send
from tests.makers import api_of

pytestmark = pytest.mark.django_db


@contextmanager
def taken_back() -> Iterator[None]:
    """Whatever happens inside is undone, so that one scene serves every door."""
    with transaction.atomic():
        yield
        transaction.set_rollback(True)


@pytest.mark.parametrize("role", Role)
def test_a_command_is_for_its_roles_and_a_refusal_leaves_nothing_behind(role: Role) -> None:
    scene = make_scene()
    client = api_of(scene.house.person(role))
    before = rows()

    for door in DOORS:
        with taken_back():
            answer = send(scene, door, client)
            after = rows()
        if role in door.roles:
            assert answer.status_code == door.status, (door.name, answer.content)
            assert (after == before) is (door.name == "look through flights"), door.name
        else:
            assert (answer.status_code, door.name) == (403, door.name)
            assert answer["Content-Type"] == "application/problem+json"
            assert answer.json()["code"] == "not_allowed"
            assert after == before, door.name


OWN_GROUND = {
    "open a base",
    "describe a type",
    "describe a kind",
    "register a component",
    "set a life limit",
} | {*("add a person", "make a key", "look through flights")}


def test_nobody_and_strangers_change_nothing_here() -> None:
    scene, elsewhere = make_scene(), makers.make_house()
    nobody, before = api_of(), None
    for door in DOORS:
        stranger = api_of(elsewhere.person(ADM if ADM in door.roles else D))
        before = before or rows()
        with taken_back():
            unknown = send(scene, door, nobody)
            assert (unknown.status_code, door.name) == (401, door.name)
            assert unknown["Content-Type"] == "application/problem+json"
            foreign = send(scene, door, stranger)
            after = rows()
        if door.name in OWN_GROUND:
            assert foreign.status_code in (200, 201), (door.name, foreign.content)
            kept = ((name, row) for name, rows_then in before.items() for row in rows_then if name != "User")
            assert all(row in after[name] for name, row in kept), door.name
        else:
            assert foreign.status_code in (404, 422), (door.name, foreign.content)
            assert after | {"User": []} == before | {"User": []}, door.name


@pytest.mark.parametrize("role", Role)
def test_everybody_with_a_role_reads(role: Role) -> None:
    scene = make_scene()
    client = api_of(scene.house.person(role))

    for place in READS:
        assert (client.get(address_of(scene, place)).status_code, place) == (200, place)


def test_nobody_reads_and_strangers_see_only_their_own() -> None:
    scene = make_scene()
    nobody, stranger = api_of(), api_of(makers.make_house().person(ADM))
    ours = {
        scene.lot.batch,
        "QX-SKA",
        scene.house.person(T).username,
        scene.equipment.code,
        scene.limit.source,
    }

    for place in READS:
        address = address_of(scene, place)
        assert (nobody.get(address).status_code, place) == (401, place)
        foreign = stranger.get(address)
        if "{" in place or "QX-SKA" in place:
            assert (foreign.status_code, place) == (404, place)
        else:
            assert (foreign.status_code, place) == (200, place)
            assert [words for words in ours if f'"{words}"' in foreign.content.decode()] == [], place


def test_an_edit_needs_the_version_that_was_read() -> None:
    scene = make_scene()
    client = api_of(scene.house.person(ADM))
    before = rows()

    for door in (door for door in DOORS if door.method in ("put", "patch")):
        missing = send(scene, door, client, HTTP_IF_MATCH="")
        stale = send(scene, door, client, HTTP_IF_MATCH='"something-1-0"')
        assert (missing.status_code, stale.status_code, door.name) == (428, 412, door.name)
    assert rows() == before


def test_a_person_with_a_one_time_password_does_nothing_yet() -> None:
    scene = make_scene()
    person = scene.house.person(ADM)
    person.must_change_password = True
    person.save()

    answer = api_of(person).get("/api/v1/bases/")

    assert (answer.status_code, answer.json()["code"]) == (403, "password_to_change")


def test_an_expired_or_revoked_key_opens_nothing_and_a_living_one_says_when_it_was_used() -> None:
    house = makers.make_house()
    client = api_of(house.person(C))
    made = client.post("/api/v1/tokens/", {"label": "tablet"}).json()
    program = api_of()
    program.credentials(HTTP_AUTHORIZATION=f"Token {made['key']}")

    assert program.get("/api/v1/bases/").status_code == 200
    (shown,) = client.get("/api/v1/tokens/").json()["results"]
    assert shown["last_used_at"] is not None
    assert "key" not in shown
    assert client.post(f"/api/v1/tokens/{made['id']}/revoke/").status_code == 200
    assert program.get("/api/v1/bases/").status_code == 401
