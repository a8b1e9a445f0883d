"""The week board with hands on the keyboard, in a real browser."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect
from pytest_django.live_server_helper import LiveServer

from scheduling.models import Slot, WeekPlan
from tests.makers import PASSWORD
from tests.scheduling.plans.week import MONDAY, Hangar, make_hangar, wall


@pytest.fixture
def board(page: Page, live_server: LiveServer, transactional_db: None) -> tuple[Page, Hangar, WeekPlan]:
    """The controller before a draft."""
    hangar = make_hangar()
    plan = hangar.planned()
    page.set_viewport_size({"width": 1366, "height": 900})
    page.goto(f"{live_server.url}/sign-in/")
    page.fill("[name=username]", hangar.person("controller").username)
    page.fill("[name=password]", PASSWORD)
    page.click("button[type=submit]")
    page.goto(f"{live_server.url}/week/?base={hangar.base.code}&monday={MONDAY}")
    return page, hangar, plan


def test_arrow_keys_move_a_slot_and_the_board_is_for_everybody(
    board: tuple[Page, Hangar, WeekPlan],
) -> None:
    page, hangar, plan = board
    slot = page.locator("[data-slot]").filter(has_text="Panel flow test")
    slot.focus()
    page.keyboard.press("ArrowRight")
    dialog = page.locator("dialog[open]")
    expect(dialog.locator("select[name=day]")).to_have_value("2025-03-11")
    page.keyboard.press("Escape")
    expect(slot).to_be_focused()
    page.keyboard.press("ArrowRight")
    dialog.get_by_role("button", name="Move", exact=True).press("Enter")
    expect(page.get_by_text("Moved. It stays there")).to_be_visible()
    moved = Slot.objects.get(plan=plan, task=hangar.test)
    assert (moved.starts_at, moved.is_pinned) == (wall(1, 9), True)
    found = Axe().run(page)
    assert [one["id"] for one in found.response["violations"]] == []
