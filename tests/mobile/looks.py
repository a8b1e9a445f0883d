"""What every screen must be: open to everybody, large enough for a glove, no wider than the phone."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe

from tests.mobile.conftest import SHOTS
from tests.mobile.phone import SCREEN, Phone

RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}}
TOO_SMALL = """
() => [...document.querySelectorAll("button, a[href], select, input:not([type=file], [type=radio]), summary")]
  .filter((each) => each.offsetParent !== null && !each.closest(".only-heard"))
  .map((each) => [each.textContent.trim().slice(0, 40) || each.id, each.closest(".step-row, .card") ?? each])
  .map(([words, target]) => [words, target.getBoundingClientRect().height])
  .filter(([, height]) => height > 0 && height < 55.5)
"""
COVERED = """
() => {
  const box = (choice) => document.querySelector(choice).getBoundingClientRect();
  const keys = box(".pad-keys");
  const field = box(".pad-field-on");
  const judged = box(".judged");
  return [
    field.top < box(".top").bottom && "what is typed lies under the top",
    field.bottom > keys.top && "what is typed lies under the keys",
    judged.bottom > keys.top && "what it comes to lies under the keys",
    keys.bottom > innerHeight && "the keys lie under the edge",
  ].filter(Boolean);
}
"""


def check(phone: Phone, name: str) -> None:
    """No violation, no target too small, nothing wider than the screen."""
    page = phone.page
    # Tall enough that nothing lies under the bar at the bottom, from where it can be scrolled.
    page.set_viewport_size({"width": SCREEN["width"], "height": 3000})
    page.wait_for_timeout(150)
    found = Axe().run(page, options=RULES)
    assert found.violations_count == 0, f"{name}: {found.generate_report()}"
    assert page.evaluate(TOO_SMALL) == [], name
    assert page.evaluate("document.documentElement.scrollWidth") <= SCREEN["width"], name
    page.set_viewport_size(SCREEN)
    if SHOTS:
        page.screenshot(path=f"{SHOTS}/{name}.png")


def check_typing(phone: Phone, name: str) -> None:
    """The same, and what is typed and what it comes to are in sight above the keys."""
    phone.page.wait_for_timeout(100)
    assert phone.page.evaluate(COVERED) == [], name
    check(phone, name)
