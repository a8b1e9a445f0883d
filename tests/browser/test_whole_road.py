"""Real clicks in a real browser: from the reported event to the sealed record, its PDF and the cleared status."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from playwright.sync_api import Browser, Page, expect

from records.management.demo.hangar import build_types, register_aircraft
from records.management.demo.house import employ_people, found_operator
from records.management.demo.picture import picture_of
from records.management.demo.programme import write_programme
from records.management.demo.scenario import Scenario
from records.management.demo.stock import stock_up
from scheduling.models import Applicability, DueFact

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.slow]

READINGS = {"value": "28.1", "left": "1480", "right": "1510", "fluid-temperature": "15.0"}


@pytest.fixture
def passwords(transactional_db: None) -> dict[str, str]:
    """The invented operator without its past, and everybody's password."""
    scenario: Scenario = found_operator()
    logins = employ_people(scenario)
    build_types(scenario)
    register_aircraft(scenario)
    stock_up(scenario)
    write_programme(scenario)
    Applicability.objects.update(is_active=False)
    DueFact.objects.all().delete()
    return {login.username: login.password for login in logins}


@pytest.fixture
def page(browser: Browser, live_server) -> Page:
    context = browser.new_context(viewport={"width": 1366, "height": 900}, base_url=live_server.url)
    context.set_default_timeout(15000)
    return context.new_page()


def sign_in(page: Page, username: str, passwords: dict[str, str]) -> None:
    page.context.clear_cookies()
    page.goto("/sign-in/")
    page.get_by_label("Name", exact=True).fill(username)
    page.get_by_label("Password").fill(passwords[username])
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url(lambda address: "sign-in" not in address)


def report_a_panel(page: Page) -> None:
    page.goto("/")
    page.get_by_role("link", name="Report an event").first.click()
    for choice in ("QX-SKB", "Porous panel replaced", "Left wing panel, middle"):
        page.get_by_role("link", name=re.compile(choice)).first.click()
    page.locator("select[name=component_on]").select_option("new")
    for label, value in (("Part number", "PP-300-2"), ("Serial number", "NEW-77")):
        field = page.get_by_label(label)
        if not field.is_visible():
            page.get_by_text("Only for a part that is not on the register yet").click()
        field.fill(value)
    page.get_by_role("button", name="Report", exact=True).click()
    page.wait_for_url(re.compile(r"/events/\d+/"))


def work(page: Page, title: str) -> None:
    """Open the task, begin its run, work every step, finish."""
    page.goto("/aircraft/QX-SKB/")
    page.get_by_role("link", name=re.compile(title)).first.click()
    page.get_by_role("button", name=re.compile("^(Begin|Start)")).first.click()
    page.wait_for_url(re.compile(r"/runs/\d+/"))
    provide(page)
    for _ in range(40):
        if page.locator("#finish").count():
            break
        answer(page)
    page.get_by_role("button", name="Finish the run").click()
    page.get_by_role("button", name="Finish", exact=True).click()
    page.wait_for_load_state()


def provide(page: Page) -> None:
    hand = page.locator("#at-hand")
    for number in range(hand.locator("select").count()):
        choice = hand.locator("select").nth(number)
        usable = choice.locator("option:not([disabled])")
        values = [usable.nth(index).get_attribute("value") or "" for index in range(usable.count())]
        wanted = [value for value in values if value]
        # Two cylinders: the right side takes the second one.
        name = choice.get_attribute("name") or ""
        choice.select_option(wanted[-1] if "right" in name else wanted[0])
    for field in hand.locator("input[type=text], input:not([type])").all():
        if field.is_visible():
            field.fill("40")
    hand.get_by_role("button").last.click()
    page.wait_for_load_state()


def answer(page: Page) -> None:
    """Answer the step that is open now, whatever it asks for."""
    step = page.locator("li.run-step-now")
    title = step.get_attribute("id") or ""
    if step.locator("[data-outlets]").count():
        step.get_by_role("button", name=re.compile("start the clock")).click()
        for tap in step.locator("[data-tap]").all():
            tap.click()
        step.get_by_role("button", name="Keep what wetted").click()
    elif step.locator("[data-timer]").count():
        type_times(step, float(step.locator("[data-target]").get_attribute("data-target") or 0))
    elif step.locator("[type=file]").count():
        file = {"name": "p.png", "mimeType": "image/png", "buffer": picture_of("QX-SKB")}
        step.locator("[type=file]").set_input_files(file)
        step.get_by_role("button", name="Keep the photograph").click()
    elif step.locator("[name='sides.left.value']").count():
        for side in ("left", "right"):
            step.locator(f"[name='sides.{side}.value']").fill(READINGS[side])
        step.get_by_role("button", name="Keep both sides").click()
    elif step.locator("[name=value]").count():
        step.locator("[name=value]").fill(READINGS.get(title.removeprefix("step-"), READINGS["value"]))
        if "temperature" in title:
            step.locator("[name=value]").fill(READINGS["fluid-temperature"])
        step.get_by_role("button", name="Keep the reading").click()
    else:
        step.locator(".step-acts button").first.click()
    expect(page.locator(f"#{title}.run-step-now")).to_have_count(0)


def type_times(step, seconds: float) -> None:
    """The run was timed with a watch and ended just now, by the clock of the base."""
    stop = datetime.now(UTC).astimezone(ZoneInfo("Europe/Oslo")).replace(microsecond=0) - timedelta(seconds=1)
    step.get_by_text("Timed with a watch").click()
    for name, moment in (("started_at", stop - timedelta(seconds=seconds)), ("stopped_at", stop)):
        step.locator(f"[name={name}]").fill(moment.strftime("%Y-%m-%dT%H:%M:%S"))
    step.get_by_role("button", name="Keep these times").click()


def sign(page: Page, username: str, passwords: dict[str, str], address: str) -> None:
    sign_in(page, username, passwords)
    page.goto(address)
    page.get_by_label("Password").first.fill(passwords[username])
    page.get_by_role("button", name="Sign", exact=True).click()
    page.wait_for_load_state()


def test_from_event_to_signed_pdf_and_cleared_status(
    page: Page, passwords: dict[str, str], tmp_path: Path
) -> None:
    sign_in(page, "tove", passwords)
    report_a_panel(page)
    expect(page.get_by_role("main")).to_contain_text("Panel purge")
    expect(page.get_by_role("main")).to_contain_text("Panel flow test")

    work(page, "Panel purge")
    sign(page, "tove", passwords, page.url.split("?")[0].rstrip("/").removesuffix("/sign") + "/sign/")
    page.goto("/aircraft/QX-SKB/")
    expect(page.get_by_role("main")).to_contain_text("Not releasable")

    work(page, "Panel flow test")
    address = page.url.split("?")[0].rstrip("/").removesuffix("/sign") + "/sign/"
    sign(page, "tove", passwords, address)
    page.goto("/aircraft/QX-SKB/")
    expect(page.get_by_role("main")).to_contain_text("Not releasable")
    sign(page, "aldis", passwords, address)

    page.goto("/aircraft/QX-SKB/")
    expect(page.get_by_role("main")).to_contain_text("Free to fly")
    paper = page.request.get("/records/QX-SKB-000002.pdf")
    assert paper.ok
    assert paper.body().startswith(b"%PDF-")
