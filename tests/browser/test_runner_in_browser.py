"""A run worked with real taps on a phone: the big timer, the outlet map, both ways to measure, nobody shut out."""

from collections.abc import Iterator
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django.test import Client
from playwright.sync_api import Browser, Page, expect

from fleet.common.actor import Role
from records.models import BenchRun
from tests.makers import at, browser_of
from tests.records.makers import Workshop, make_workshop

DESK, PHONE = {"width": 1366, "height": 900}, {"width": 390, "height": 844}


@pytest.fixture
def workshop(transactional_db: None) -> Workshop:
    made = make_workshop()
    for number, (code, place) in enumerate((("outlet-wing-left", 20), ("outlet-wing-right", 80))):
        outlet = made.house.position(code)
        outlet.map_x, outlet.map_y, outlet.order = place, 32, number
        outlet.save()
    made.report()
    made.do_purge(at(hours=1))
    return made


@pytest.fixture
def opened(
    browser: Browser, live_server: Any, workshop: Workshop, request: pytest.FixtureRequest
) -> Iterator[Page]:
    """A page signed in as the technician; whatever the browser complains of fails the test."""
    client: Client = browser_of(workshop.house.person(Role.TECHNICIAN))
    context = browser.new_context(
        viewport=getattr(request, "param", PHONE), locale="en-GB", timezone_id="UTC"
    )
    cookie = client.cookies["sessionid"].value
    context.add_cookies([{"name": "sessionid", "value": cookie, "url": live_server.url}])
    page = context.new_page()
    complaints: list[str] = []
    page.on("console", lambda said: complaints.append(said.text) if said.type == "error" else None)
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(f"{live_server.url}/tasks/{workshop.task('panel-flow-test').pk}/")
    yield page
    context.close()
    assert complaints == []


def begin(page: Page, workshop: Workshop) -> BenchRun:
    page.get_by_role("button", name="Start the work").click()
    page.get_by_label("Amount").fill("22.0")
    page.get_by_role("button", name="Use these").click()
    page.get_by_role("button", name="Read and understood").click()
    page.get_by_role("button", name="Set to ON").click()
    page.get_by_label("Bus voltage").fill("28.1")
    page.get_by_role("button", name="Keep the reading").click()
    return BenchRun.objects.get(task=workshop.task("panel-flow-test"))


def no_one_is_shut_out(page: Page) -> None:
    found = Axe().run(page).response["violations"]
    assert [(each["id"], [node["target"] for node in each["nodes"]]) for each in found] == []
    wide = "document.documentElement.scrollWidth - document.documentElement.clientWidth"
    assert page.evaluate(wide) == 0


def test_outlets_are_tapped_on_the_map_and_in_the_list_and_the_timer_survives_a_reload(
    opened: Page, workshop: Workshop
) -> None:
    run = begin(opened, workshop)
    now = opened.locator(".run-step-now")
    no_one_is_shut_out(opened)
    now.get_by_role("button", name="Fluid on").click()
    opened.wait_for_timeout(300)
    now.locator('[data-dot="0"]').click()
    now.get_by_role("button", name="2. outlet wing right").click()
    opened.reload()
    expect(now.locator('[data-tap][aria-pressed="true"]')).to_have_count(2)
    now.get_by_role("button", name="Keep what wetted").click()
    opened.get_by_role("button", name="Start", exact=True).click()
    face = opened.locator(".run-step-now [data-face]")
    expect(face).to_have_text("0:01", timeout=5000)
    opened.reload()
    expect(face).to_have_text("0:02", timeout=5000)
    no_one_is_shut_out(opened)
    opened.get_by_role("button", name="Stop", exact=True).dblclick()
    expect(opened.locator("#step-run")).to_contain_text("Repeat this step")
    outlets = run.answers.get(step="wet").answer["outlets"]
    assert [row["wet"] for row in outlets] == [True, True]
    assert all(0 < float(row["seconds"]) < 5 for row in outlets)
    assert run.answers.filter(step="run").count() == 1


@pytest.mark.parametrize("opened", [DESK], indirect=True)
def test_a_side_is_measured_by_volume_or_by_weight_and_judged_at_once(
    opened: Page, workshop: Workshop
) -> None:
    run = begin(opened, workshop)
    for label in ("1. outlet wing left", "2. outlet wing right"):
        opened.locator(".run-step-now").get_by_role("button", name=label).click()
        opened.keyboard.type("45")
    opened.get_by_role("button", name="Keep what wetted").click()
    opened.get_by_text("Timed with a watch").click()
    opened.locator(".run-step-now").get_by_label("Began").fill("2025-03-03T15:00:00")
    opened.locator(".run-step-now").get_by_label("Ended").fill("2025-03-03T15:04:00")
    opened.get_by_role("button", name="Keep these times").click()
    now = opened.locator(".run-step-now")
    left, right = (
        now.get_by_role("group", name="Left", exact=True),
        now.get_by_role("group", name="Right", exact=True),
    )
    left.get_by_text("Weigh it").click()
    expect(left.get_by_label("Left: volume")).to_be_hidden()
    left.get_by_label("Left: gross").fill("1885.0")
    left.get_by_label("Left: tare").fill("250.0")
    left.get_by_label("Left: fluid temperature").fill("20")
    right.get_by_label("Right: volume").fill("900")
    no_one_is_shut_out(opened)
    opened.get_by_role("button", name="Keep both sides").click()
    done = opened.locator("#step-collect")
    expect(done).to_contain_text("350\u00a0mL outside")
    expect(done.locator(".limit-scale")).to_have_count(3)
    expect(opened.locator(".run-so-far")).to_contain_text("Outside so far")
    no_one_is_shut_out(opened)
    assert run.measurements.get(point="flow-left").detail["method"] == "weighed"
