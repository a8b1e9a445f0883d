"""Every named address outside the API × everybody: who is led to sign in, what a page owes, who changes nothing."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from django.test import Client
from django.urls import Resolver404, resolve

from fleet.common.actor import Role
from tests.doors.doors import Door, screen_doors
from tests.doors.forms import Form, forms_of, judged
from tests.doors.journal import Journal, journal
from tests.doors.knocking import given_away, person_at, rows, text_of
from tests.doors.places import address_of
from tests.doors.scene import Scene
from tests.makers import browser_of

pytestmark = pytest.mark.django_db

# Open to whoever stands before them: they hold nothing of an operator, or ask for a secret in their address.
PUBLIC = {
    "health",
    "fleet:sign-in",
    "fleet:sign-out",
    "mobile:shell",
    "mobile:manifest",
    "mobile:worker",
    "labels:aircraft",
    "labels:component",
    "records:verify",
    "scheduling:calendar-feed",
}
DOORS = screen_doors()
HELD = [door for door in DOORS if door.name not in PUBLIC]
READS = [door for door in HELD if not door.writes]
WRITES = [door for door in HELD if door.method == "post"]
WORKERS = (Role.CONTROLLER, Role.TECHNICIAN, Role.INSPECTOR, Role.DIRECTOR, Role.ADMINISTRATOR)
# A page that is a form is for whoever may send it.
FORMS = {door.path for door in WRITES}
NOT_FOR_READERS: set[str] = set()
# The list of one's reminders notes that they were seen.
LOOKED_AT = {"scheduling:reminders": {"scheduling_reminder"}, "scheduling:inbox": {"scheduling_reminder"}}
# Every operator has a ladder for each consequence.
NAMES_NO_THING = {"scheduling:reminder-ladder"}
# The phone's program writes its headings itself.
DRAWN_BY_SCRIPT = {"mobile:shell"}
SAFETY = "licensed staff decide"
# What is a person's own: how they look at lists, are reminded, sign in.
OWN_TABLES = {
    "scheduling_savedview",
    "scheduling_reminderchoice",
    "scheduling_calendarlink",
    "scheduling_reminder",
    "fleet_apitoken",
    "fleet_passkey",
    "fleet_user",
    "fleet_trailentry",
}


@pytest.fixture(scope="module")
def browsers(scene: Scene) -> dict[str, Client]:
    """Everybody at their browser; an error becomes a page of 500."""
    known = {role.value: browser_of(scene.person(role)) for role in Role}
    browsers = {**known, "stranger": browser_of(scene.stranger), "nobody": browser_of()}
    for browser in browsers.values():
        browser.raise_request_exception = False
    return browsers


class Visits:
    """Pages fetched once for each person, with what fetching them wrote."""

    def __init__(self, scene: Scene, browsers: dict[str, Client]) -> None:
        self.scene = scene
        self.browsers = browsers
        self.kept: dict[tuple[str, str], tuple[Any, Journal]] = {}

    def get(self, who: str, door: Door) -> tuple[Any, Journal]:
        if (who, door.path) not in self.kept:
            with journal(person_at(self.scene, who)) as notes:
                answer = self.browsers[who].get(address_of(self.scene, door))
                answer.read_text = text_of(answer) if "html" in answer.get("Content-Type", "") else ""
            self.kept[who, door.path] = (answer, notes)
        return self.kept[who, door.path]


@pytest.fixture(scope="module")
def visits(scene: Scene, browsers: dict[str, Client]) -> Visits:
    return Visits(scene, browsers)


def post(
    scene: Scene, browsers: dict[str, Client], who: str, address: str, sent: Any = None
) -> tuple[Any, Journal]:
    """Send a form as somebody; what it wrote is noted and taken back."""
    with journal(person_at(scene, who)) as notes:
        answer = browsers[who].post(address, sent or {})
    return answer, notes


def test_every_public_address_is_still_there() -> None:
    assert {door.name for door in DOORS} >= PUBLIC


@pytest.mark.parametrize("door", [door for door in HELD if door.method in ("get", "post")], ids=str)
def test_nobody_is_led_to_the_sign_in(door: Door, scene: Scene, browsers: dict[str, Client]) -> None:
    address = address_of(scene, door)
    with journal() as notes:
        answer = getattr(browsers["nobody"], door.method)(address)

    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/?next=")
    assert notes.writes == []


@pytest.mark.parametrize("door", READS, ids=str)
def test_a_page_answers_every_role_and_looking_writes_nothing(door: Door, visits: Visits) -> None:
    for role in Role if not door.path.endswith(".pdf") else (Role.TECHNICIAN, Role.AUDITOR):
        answer, notes = visits.get(role, door)

        assert answer.status_code in (200, 302, 403), (
            door,
            role,
            answer.status_code,
            answer.read_text[-800:],
        )
        assert notes.tables <= LOOKED_AT.get(door.name, set()), (door, role, notes.books)
        if role is Role.AUDITOR and door.path not in FORMS and door.name not in NOT_FOR_READERS:
            assert answer.status_code == 200, (door, answer.read_text[-800:])


@pytest.mark.parametrize("door", [door for door in DOORS if not door.writes], ids=str)
def test_a_page_owes_a_policy_a_language_one_heading_and_nothing_inline(door: Door, visits: Visits) -> None:
    for who in (Role.DIRECTOR, Role.TECHNICIAN, "nobody"):
        if who == "nobody" and door.name not in PUBLIC:
            continue
        answer, _ = visits.get(who, door)
        policy = answer["Content-Security-Policy"]
        assert "default-src 'self'" in policy
        assert "unsafe" not in policy
        assert answer["X-Frame-Options"] == "DENY"
        assert answer["X-Content-Type-Options"] == "nosniff"
        if "<html" not in answer.read_text:
            continue
        found = judged(answer.read_text)
        if door.name in DRAWN_BY_SCRIPT:
            found.headings += 1
        assert (found.language[:2], found.headings, found.inline) == ("en", 1, []), (door, who)
        assert SAFETY in answer.read_text, (door, who)


@pytest.mark.parametrize("door", READS, ids=str)
def test_a_neighbour_sees_nothing_of_ours(door: Door, scene: Scene, visits: Visits) -> None:
    answer, _ = visits.get("stranger", door)

    if door.parameters and door.name not in NAMES_NO_THING:
        assert answer.status_code == 404, door
    else:
        assert answer.status_code in (200, 302, 404), (door, answer.status_code)
    assert given_away(scene, answer.read_text, door) == []


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_an_empty_form_never_breaks_and_writes_nothing_for_readers_and_neighbours(
    door: Door, scene: Scene, browsers: dict[str, Client]
) -> None:
    for who in (Role.DIRECTOR, Role.TECHNICIAN, Role.AUDITOR, "stranger"):
        answer, notes = post(scene, browsers, who, address_of(scene, door))

        assert answer.status_code < 500, (door, who)
        if who == Role.AUDITOR or (who == "stranger" and door.parameters):
            assert notes.tables <= OWN_TABLES, (door, notes.books)
        if who == "stranger" and door.parameters and door.name not in NAMES_NO_THING:
            assert answer.status_code == 404, (door, answer.status_code)


def every_form(visits: Visits) -> Iterator[tuple[Role, Form]]:
    """Each kind of form once for each role that is shown it."""
    seen: set[tuple[str, str, tuple[str, ...]]] = set()
    for door in READS:
        for role in WORKERS:
            answer, _ = visits.get(role, door)
            for form in forms_of(answer.read_text, address_of(visits.scene, door)):
                try:
                    name = resolve(form.action.split("?")[0]).view_name
                except Resolver404:
                    pytest.fail(f"a form on {door} leads nowhere: {form.action}")
                if (role, name, tuple(form.sent)) not in seen:
                    seen.add((role, name, tuple(form.sent)))
                    yield role, form


def test_every_form_a_page_shows_can_be_sent_and_does_nothing_for_an_auditor_or_a_neighbour(
    scene: Scene, browsers: dict[str, Client], visits: Visits
) -> None:
    standing = rows()
    wrote: set[str] = set()
    shown: set[str] = set()
    tried: set[tuple[str, str]] = set()
    for role, form in every_form(visits):
        match = resolve(form.action.split("?")[0])
        if match.view_name in PUBLIC:
            continue
        shown.add(match.view_name)
        answer, notes = post(scene, browsers, role, form.action, form.sent)
        assert answer.status_code < 500, (role, form)
        if notes.books:
            wrote.add(match.view_name)
        if (form.action, str(sorted(form.sent))) in tried:
            continue
        tried.add((form.action, str(sorted(form.sent))))
        answer, notes = post(scene, browsers, Role.AUDITOR, form.action, form.sent)
        assert answer.status_code < 500, form
        assert notes.tables <= OWN_TABLES, (form, notes.books)
        with journal(scene.stranger.pk) as notes:
            answer = browsers["stranger"].post(form.action, form.sent)
            changed = {line for line in notes.books if not line.startswith("INSERT")}
            after = rows() if changed else standing
        assert answer.status_code < 500, form
        assert {name for name, kept in standing.items() if kept - after[name]} <= {"User"}, form
        if match.kwargs and match.view_name not in NAMES_NO_THING:
            assert answer.status_code == 404, (form, answer.status_code)
            assert notes.books == []

    print(sorted({door.name for door in WRITES} - shown), "SHOWN-NOT-WROTE", sorted(shown - wrote))
