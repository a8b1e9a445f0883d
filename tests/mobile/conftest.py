"""What the tests of the phone share."""

from __future__ import annotations

import json
import mimetypes
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from django.contrib.staticfiles import finders
from playwright.sync_api import Browser, Page, Route
from pytest_django.live_server_helper import LiveServer

from fleet.models import Position
from scheduling.models import ProcedureVersion
from tests.makers import Role, at
from tests.mobile.phone import Phone
from tests.records.makers import Workshop, make_workshop

ORIGIN = "http://verglas.test"
HERE = Path(__file__).parent
# A folder for a picture of every phone as its test left it; none are taken where it is not set.
SHOTS = os.environ.get("VERGLAS_TEST_SHOTS", "")


def serve_scripts(route: Route) -> None:
    """A bare page, and the product's own static files; nothing else."""
    path = route.request.url.removeprefix(ORIGIN)
    if not path.startswith("/static/"):
        route.fulfill(body="<!doctype html><title>bare</title>", content_type="text/html")
        return
    found = finders.find(path.removeprefix("/static/"))
    if not found:
        route.fulfill(status=404)
        return
    media_type = mimetypes.guess_type(found)[0] or "application/octet-stream"
    route.fulfill(body=Path(found).read_bytes(), content_type=media_type)


@pytest.fixture
def ask_scripts(page: Page) -> Callable[[str, object], object]:
    """Call a script of this folder in Chromium with one argument; it may import the phone's own."""
    page.route(f"{ORIGIN}/**", serve_scripts)
    page.goto(f"{ORIGIN}/")
    return lambda name, argument: page.evaluate((HERE / name).read_text(encoding="utf-8"), argument)


def quick(content: dict[str, Any]) -> dict[str, Any]:
    """The same procedure with a timed run of 4 s, give or take 3 s, so that a test need not wait for four minutes."""
    shorter: dict[str, Any] = json.loads(json.dumps(content))
    for point in shorter["points"]:
        if "normalise" in point:
            point["normalise"] = {"seconds": "4", "most_percent": "75"}
    for step in shorter["steps"]:
        if step["kind"] == "timed_run":
            step |= {
                "seconds": "4",
                "tolerance_seconds": "3",
                "title": "Timed run",
                "text": "Hoses in, hoses out.",
            }
        if step["key"] == "power":
            step["caution"] = "Propeller area clear before power goes on."
    return shorter


@pytest.fixture
def workshop(transactional_db: None) -> Workshop:
    """A workshop whose purge is signed and whose flow test, with its short timed run, may begin."""
    made = make_workshop()
    for version in ProcedureVersion.objects.all():
        ProcedureVersion.objects.filter(pk=version.pk).update(content=quick(version.content))
    for code, x in (("outlet-wing-left", 26), ("outlet-wing-right", 74)):
        Position.objects.filter(code=code).update(map_x=x, map_y=33)
    made.report()
    return made


@pytest.fixture
def hasty(workshop: Workshop) -> Workshop:
    """The pump of the purge may be on for 3 s at most and rests for 3 s."""
    for version in ProcedureVersion.objects.filter(procedure__code="panel-purge"):
        steps = [
            step | {"max_on_seconds": "3", "min_rest_seconds": "3"} if step["kind"] == "duty_run" else step
            for step in version.content["steps"]
        ]
        content = version.content | {"steps": steps}
        ProcedureVersion.objects.filter(pk=version.pk).update(content=content)
    return workshop


@pytest.fixture
def purged(workshop: Workshop) -> Workshop:
    """The purge is signed: the flow test may begin."""
    workshop.do_purge(at(hours=1))
    return workshop


@pytest.fixture
def hand_phone(
    browser: Browser, live_server: LiveServer, request: pytest.FixtureRequest
) -> Iterator[Callable[..., Phone]]:
    """Hand a phone to somebody: `hand_phone(person)`; each has its own storage."""
    phones: list[Phone] = []

    def hand(person: object = None, **options: object) -> Phone:
        phone = Phone(browser, live_server.url, **options)
        if person is not None:
            phone.session_of(person)
        phones.append(phone)
        return phone

    yield hand
    for number, phone in enumerate(phones):
        if SHOTS and not phone.page.is_closed():
            phone.page.screenshot(path=f"{SHOTS}/{request.node.name[:60]}-{number}.png")
        phone.context.close()
    for phone in phones:
        assert phone.faults == []


@pytest.fixture
def phone(purged: Workshop, hand_phone: Callable[..., Phone]) -> Phone:
    """The technician's phone with today's work on it, ready to go without reception."""
    made = hand_phone(purged.house.person(Role.TECHNICIAN))
    made.start()
    return made
