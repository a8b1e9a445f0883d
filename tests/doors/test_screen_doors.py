"""Every named address outside the API × everybody: who is led to sign in, what a page owes, who changes nothing."""

from __future__ import annotations

import pytest
from django.test import Client

from fleet.common.actor import Role
from tests.doors.doors import Door
from tests.doors.forms import judged
from tests.doors.knocking import given_away, visit
from tests.doors.places import address_of
from tests.doors.scene import Scene
from tests.doors.visits import DOORS, HELD, NAMES_NO_THING, OWN_TABLES, PUBLIC, READS, WRITES, Visits

pytestmark = pytest.mark.django_db

# Papers take long to set; who does the work and who only reads stand for all.
PAPER_READERS = (Role.TECHNICIAN, Role.AUDITOR)
# A page that is a form is for whoever may send it.
FORMS = {door.path for door in WRITES}
# The list of one's reminders notes that they were seen.
LOOKED_AT = {"scheduling:reminders": {"scheduling_reminder"}, "scheduling:inbox": {"scheduling_reminder"}}
# The phone's program writes its headings itself.
DRAWN_BY_SCRIPT = {"mobile:shell"}
SAFETY = "licensed staff decide"


def test_every_public_address_is_still_there() -> None:
    assert {door.name for door in DOORS} >= PUBLIC


@pytest.mark.parametrize("door", [door for door in HELD if door.method in ("get", "post")], ids=str)
def test_nobody_is_led_to_the_sign_in(door: Door, scene: Scene, browsers: dict[str, Client]) -> None:
    with visit(scene, browsers, "nobody") as (browser, notes):
        answer = getattr(browser, door.method)(address_of(scene, door))

    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/?next=")
    assert notes.writes == []


@pytest.mark.parametrize("door", READS, ids=str)
def test_a_page_answers_every_role_and_looking_writes_nothing(door: Door, visits: Visits) -> None:
    for role in Role if not door.path.endswith(".pdf") else PAPER_READERS:
        answer, notes = visits.of(role, door)

        assert answer.status_code in (200, 302, 403), (door, role, answer.read_text[-800:])
        assert notes.tables <= LOOKED_AT.get(door.name, set()), (door, role, notes.books)
        if role is Role.AUDITOR and door.path not in FORMS:
            assert answer.status_code == 200, (door, answer.read_text[-800:])


@pytest.mark.parametrize("door", [door for door in DOORS if not door.writes], ids=str)
def test_a_page_owes_a_policy_a_language_one_heading_and_nothing_inline(door: Door, visits: Visits) -> None:
    for who in (Role.DIRECTOR, Role.TECHNICIAN, "nobody"):
        if who == "nobody" and door.name not in PUBLIC:
            continue
        answer, _ = visits.of(who, door)
        policy = answer["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        assert answer["X-Frame-Options"] == "DENY"
        assert answer["X-Content-Type-Options"] == "nosniff"
        if "<html" in answer.read_text:
            found, headings = judged(answer.read_text), 0 if door.name in DRAWN_BY_SCRIPT else 1
            assert (found.language[:2], found.headings, found.inline) == ("en", headings, []), (door, who)
            assert SAFETY in answer.read_text, (door, who)


@pytest.mark.parametrize("door", READS, ids=str)
def test_a_neighbour_sees_nothing_of_ours(door: Door, scene: Scene, visits: Visits) -> None:
    answer, _ = visits.of("stranger", door)

    if door.parameters and door.name not in NAMES_NO_THING:
        assert answer.status_code == 404, door
    else:
        assert answer.status_code in (200, 302, 404), (door, answer.status_code)
    assert given_away(scene, answer.read_text, door) == []


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_an_empty_form_never_breaks_and_writes_nothing_for_readers_and_neighbours(
    door: Door, scene: Scene, visits: Visits
) -> None:
    for who in (Role.DIRECTOR, Role.TECHNICIAN, Role.AUDITOR, "stranger"):
        answer, notes = visits.post(who, address_of(scene, door))

        assert answer.status_code < 500, (door, who)
        if who == Role.AUDITOR or (who == "stranger" and door.parameters):
            assert notes.tables <= OWN_TABLES, (door, notes.books)
        if who == "stranger" and door.parameters and door.name not in NAMES_NO_THING:
            assert answer.status_code == 404, (door, answer.status_code)
