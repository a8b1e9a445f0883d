"""Every form that a page shows, sent as each of its buttons sends it, by who was shown it and by who was not."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import cycle
from typing import Any

import pytest
from django.contrib.messages import get_messages
from django.urls import resolve

from fleet.common.actor import Role
from tests.doors.doors import Door
from tests.doors.filling import NO_PAGE, Shown, filled, pages_of, shown_forms
from tests.doors.forms import Form, forms_of
from tests.doors.knocking import rows, text_of, visit
from tests.doors.nonsense import TEXTS
from tests.doors.places import address_of
from tests.doors.scene import Scene
from tests.doors.visits import NAMES_NO_THING, OWN_TABLES, READS, WRITES, Visits

pytestmark = pytest.mark.django_db

WRITES_NOTHING = {"records:run-press": "the timer is kept in the session until its step is answered"}
# Nobody types them: they are chosen by a button or put there by the page.
NOT_TYPED = {"csrfmiddlewaretoken", "do"}
LINK = re.compile(r'<a [^>]*href="(/[^"#?]*)')


@pytest.fixture(scope="module")
def shown(visits: Visits) -> dict[str, list[Shown]]:
    return shown_forms(visits)


def said(answer: Any) -> str:
    """What an answer told the person in words."""
    text = text_of(answer) + " ".join(map(str, get_messages(answer.wsgi_request)))
    return re.sub(r"(<[^>]*>|\s)+", " ", text[text.find("<main") :])


def sent_with_effect(scene: Scene, visits: Visits, name: str, one: Shown) -> tuple[bool, str]:
    """Whether one of the ways to fill in a form writes something, and what was said last; never a refusal."""
    words = ""
    for form in one.forms:
        for sent in filled(scene, form, name):
            answer, notes = visits.post(one.role, form.action, sent)
            words = said(answer)
            assert answer.status_code not in (404, 500), (one.role, form, words)
            assert "Your role (" not in words, (one.role, form, words)
            if notes.books:
                return True, words
    return False, words


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_a_page_shows_a_form_for_every_door_and_whoever_is_shown_it_may_send_it(
    door: Door, shown: dict[str, list[Shown]], scene: Scene, visits: Visits
) -> None:
    told = [(one.role, *sent_with_effect(scene, visits, door.name, one)) for one in shown[door.name]]

    assert told, f"no page shows a form for {door}: say in tests/doors/filling.py which page it stands on"
    assert any(wrote for _, wrote, _ in told) is (door.name not in WRITES_NOTHING), told


def at_each_address(shown: list[Shown]) -> Iterator[Form]:
    """One form for each address that forms go to."""
    yield from {one.forms[0].action: one.forms[0] for one in shown}.values()


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_a_form_does_nothing_for_an_auditor(
    door: Door, shown: dict[str, list[Shown]], scene: Scene, visits: Visits
) -> None:
    for form in at_each_address(shown[door.name]):
        for sent in filled(scene, form, door.name):
            answer, notes = visits.post(Role.AUDITOR, form.action, sent)

            assert answer.status_code < 500, form
            assert notes.tables <= OWN_TABLES, (form, notes.books)


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_a_form_changes_nothing_of_ours_for_a_neighbour(
    door: Door, shown: dict[str, list[Shown]], scene: Scene, visits: Visits, standing: dict[str, set[str]]
) -> None:
    for form in at_each_address(shown[door.name]):
        for sent in filled(scene, form, door.name):
            with visit(scene, visits.browsers, "stranger") as (browser, notes):
                answer = browser.post(form.action, sent)
                changed = {line for line in notes.books if not line.startswith("INSERT")}
                after = rows() if changed else standing

            assert answer.status_code < 500, form
            assert {name for name, kept in standing.items() if kept - after[name]} <= {"User"}, form
            if door.parameters and door.name not in NAMES_NO_THING:
                assert (answer.status_code, notes.books) == (404, []), form


def nonsense_in(names: list[str]) -> Iterator[dict[str, str]]:
    """Each nonsense in all fields at once, then one in each of the first fields while the others make sense."""
    yield from (dict.fromkeys(names, text) for text in TEXTS)
    yield from ({name: text} for name, text in zip(names[:12], cycle(TEXTS), strict=False))


@pytest.mark.parametrize("door", WRITES, ids=str)
def test_nonsense_in_a_form_breaks_nothing(
    door: Door, shown: dict[str, list[Shown]], scene: Scene, visits: Visits
) -> None:
    for one in {tuple(one.forms[0].most): one for one in shown[door.name]}.values():
        form = one.forms[0]
        *_, most = filled(scene, form, door.name)
        typed = [name for name in most if isinstance(most[name], list) and name not in NOT_TYPED]
        for wrong in nonsense_in(typed):
            answer, _ = visits.post(one.role, form.action, most | wrong)
            assert answer.status_code < 500, (one.role, form.action, wrong)


@pytest.mark.parametrize("door", [door for door in READS if not NO_PAGE.search(f"/{door.path}")], ids=str)
def test_nonsense_in_the_question_of_a_page_breaks_nothing(door: Door, scene: Scene, visits: Visits) -> None:
    page = address_of(scene, door)
    forms = [form for form in forms_of(visits.text(Role.DIRECTOR, page), page) if form.method == "get"]
    names = sorted({name for form in forms for name in form.most})
    for asked in nonsense_in([*names, "page"]) if names else ():
        with visit(scene, visits.browsers, Role.DIRECTOR) as (browser, _):
            answer = browser.get(page, asked)
        assert answer.status_code < 500, (page, asked)


@pytest.mark.parametrize("role", Role)
def test_no_page_leads_anybody_to_a_page_that_is_refused_to_them(role: Role, visits: Visits) -> None:
    by_name = {door.name: door for door in READS}
    led = {
        (resolve(link).view_name, page)
        for page in pages_of(visits.scene)
        for link in LINK.findall(visits.text(role, page))
    }
    refused = {
        (name, page)
        for name, page in led
        if name in by_name and visits.of(role, by_name[name])[0].status_code == 403
    }

    assert len({name for name, _ in led}) > 20
    assert refused == set()
