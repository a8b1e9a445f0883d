"""Every writing door of the API: who gets through is what the policy says, and whoever is refused leaves no row."""

from __future__ import annotations

from typing import Any

import pytest
from rest_framework.test import APIClient

from fleet.api.base import CommandView
from fleet.common.actor import POLICY, Role
from tests.doors.doors import Door, api_doors
from tests.doors.examples import NOT_BY_EXAMPLE, OWN, QUESTIONS, send
from tests.doors.journal import Journal
from tests.doors.knocking import knock, must_be_well_answered, rows, visit
from tests.doors.places import address_of
from tests.doors.published import must_be_as_published
from tests.doors.scene import Scene

pytestmark = pytest.mark.django_db

# Its answer holds a one-time password, which no receipt may keep.
SAID_ONCE = {"POST people/"}
WRITES = [door for door in api_doors() if door.writes]
BOOKED = [
    door
    for door in WRITES
    if str(door) not in QUESTIONS and str(door) not in OWN and str(door) not in NOT_BY_EXAMPLE
]
REPEATABLE = [
    door
    for door in WRITES
    if door.method == "post" and issubclass(door.view.cls, CommandView) and str(door) not in SAID_ONCE
]
# A draft of a week is not found by who does not plan.
UNSEEN = {"DELETE week-plans/{plan_id}/": {404}, "POST week-plans/{plan_id}/publish/": {404}}
UNSEEN["POST sync/"] = {200}
# When somebody was last here, and that the chain was verified, is noted.
NOTED = {"POST phone/sign-in/": {"UPDATE fleet_user"}, "POST verification/": {"INSERT fleet_trailentry"}}
SECRETS = {"password", "one_time_password", "secret"}


Told = dict[Role, tuple[Any, Journal]]


def told_by_role(clients: dict[str, APIClient], scene: Scene, door: Door) -> Told:
    """What each role was answered: as published, and a refusal of any kind wrote nothing."""
    told = {role: knock(clients, role, scene, door) for role in Role}
    for role, (answer, notes) in told.items():
        must_be_well_answered(answer, door)
        if answer.status_code >= 400:
            assert notes.books == [], (door, role)
        else:
            must_be_as_published(answer, door)
    return told


def opened(told: Told) -> set[Role]:
    """Who got through; a phone's parcel is always taken in, and each command in it answered by itself."""
    return {
        role
        for role, (answer, notes) in told.items()
        if answer.status_code < 300 and (answer.request["PATH_INFO"] != "/api/v1/sync/" or notes.books)
    }


@pytest.mark.parametrize("door", BOOKED, ids=str)
def test_a_writing_door_opens_to_the_roles_of_the_policy_and_to_nobody_else(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    told = told_by_role(clients, scene, door)

    through = opened(told)
    assert through, (door, {role: answer.read_text[:300] for role, (answer, _) in told.items()})
    assert any(told[role][1].books for role in through), f"{door} answered well and wrote nothing"
    ways = [told[role][1].needed for role in through]
    assert all(ways), f"{door} wrote {told[min(through)][1].books} without asking the policy"
    barred = {role for role in Role if not any(all(role in POLICY[verb] for verb in way) for way in ways)}
    assert Role.AUDITOR in barred
    assert not barred & through
    for role in barred:
        assert told[role][0].status_code in UNSEEN.get(str(door), {403}), (
            door,
            role,
            told[role][0].read_text,
        )


@pytest.mark.parametrize("door", [door for door in WRITES if str(door) in QUESTIONS], ids=str)
def test_a_question_writes_nothing_whoever_asks(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    told = told_by_role(clients, scene, door)

    assert opened(told), (door, {role: answer.read_text[:300] for role, (answer, _) in told.items()})
    assert [notes.books for _, notes in told.values() if set(notes.books) - NOTED.get(str(door), set())] == []


@pytest.mark.parametrize("door", [door for door in WRITES if str(door) in OWN], ids=str)
def test_what_is_ones_own_needs_no_role_and_touches_nothing_else(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    told = told_by_role(clients, scene, door)

    through = opened(told)
    assert through, (door, {role: answer.read_text[:300] for role, (answer, _) in told.items()})
    for role in through:
        assert told[role][1].tables <= {OWN[str(door)], "fleet_trailentry"}, (door, role)
    if door.parameters:
        assert Role.AUDITOR not in through
        assert told[Role.AUDITOR][0].status_code in (403, 404)


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_a_neighbour_changes_nothing_of_ours(
    door: Door, scene: Scene, clients: dict[str, APIClient], standing: dict[str, set[str]]
) -> None:
    with visit(scene, clients, "stranger") as (client, notes):
        answer = send(client, scene, door, address_of(scene, door, "/api/v1/"))
        changed = {line for line in notes.books if not line.startswith("INSERT")} - {"UPDATE fleet_user"}
        after = rows() if changed else standing

    must_be_well_answered(answer, door)
    if door.parameters and "ladder" not in door.path:
        assert answer.status_code == 404, (door, answer.content[:500])
    if answer.status_code >= 400:
        assert notes.books == [], door
    assert {name: kept - after[name] for name, kept in standing.items() if kept - after[name]} == {}


@pytest.mark.parametrize("door", REPEATABLE, ids=str)
def test_a_command_repeated_under_its_key_is_carried_out_once(
    door: Door, scene: Scene, clients: dict[str, APIClient]
) -> None:
    for role in (Role.DIRECTOR, Role.TECHNICIAN, *Role):
        with visit(scene, clients, role) as (client, notes):
            address = address_of(scene, door, "/api/v1/")
            headers = {"Idempotency-Key": f"key of {door}"[:100]}
            first = send(client, scene, door, address, **headers)
            if first.status_code >= 300:
                continue
            written = len(notes.books)
            again = send(client, scene, door, address, **headers)

            assert not first.has_header("Idempotent-Replay")
            assert again["Idempotent-Replay"] == "true"
            assert (again.status_code, again.json() if again.content else None) == (
                first.status_code,
                first.json() if first.content else None,
            )
            assert len(notes.books) == written
            told = first.json() if first.content else {}
            assert not isinstance(told, dict) or not SECRETS & set(told), (
                f"{door}: a receipt would keep a secret"
            )
            return
    pytest.fail(f"{door} opened to nobody")
