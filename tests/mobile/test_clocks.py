"""What runs against the clock: heard wherever one is, not stopped by sleep, and never thrown away."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import expect

from fleet.common.actor import Role
from records.models import StepAnswer
from tests.mobile import work
from tests.mobile.phone import Phone
from tests.mobile.test_troubles import SKEWED
from tests.records.makers import Workshop

# What the phone would do to be noticed.
LISTEN = """
(() => {
  window.noticed = [];
  const request = async () => {
    window.noticed.push("awake");
    return Object.assign(new EventTarget(), { release: async () => { window.noticed.push("asleep"); } });
  };
  Object.defineProperty(navigator, "wakeLock", { value: { request } });
  navigator.vibrate = (pattern) => { window.noticed.push([pattern].flat().length > 1 ? "long shake" : "shake"); };
  const start = OscillatorNode.prototype.start;
  OscillatorNode.prototype.start = function (...when) {
    window.noticed.push("tone");
    return start.apply(this, when);
  };
})();
"""


def to_the_run(phone: Phone) -> None:
    work.begin(phone)
    work.until_wet(phone)
    work.wet(phone)
    phone.see_title("Timed run")


def test_a_run_keeps_the_phone_awake_and_is_heard_wherever_one_is(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    phone = hand_phone(purged.house.person(Role.TECHNICIAN), script=LISTEN)
    phone.start()
    to_the_run(phone)
    phone.page.evaluate("window.noticed = []")
    work.start_run(phone)
    phone.tap("All steps")
    strip = phone.page.locator(".running")
    expect(strip).to_contain_text("left")
    expect(strip).to_contain_text("Time is up. Stop now.", timeout=8000)
    end = ["long shake", "tone", "tone", "tone"]
    assert phone.page.evaluate("window.noticed") == ["awake", "shake", "shake", "shake", *end]
    strip.tap()
    expect(strip).to_have_count(0)
    phone.page.get_by_role("button", name="Stop", exact=True).tap()
    phone.see("Ran ")
    phone.page.wait_for_function("() => window.noticed.at(-1) === 'asleep'")


def test_a_run_goes_on_while_the_phone_sleeps(hand_phone: Callable[..., Phone], purged: Workshop) -> None:
    phone = hand_phone(purged.house.person(Role.TECHNICIAN), script=SKEWED.replace("HOURS", "0"))
    phone.start()
    to_the_run(phone)
    work.start_run(phone)
    # The server's clock does not sleep along with the phone's, so it is not asked here.
    phone.cut()
    phone.page.evaluate(
        "document.dispatchEvent(new Event('visibilitychange')); window.setTheClock(60 / 3600)"
    )
    phone.see("Time is up. Stop now: 0:5")


def test_a_run_done_again_keeps_both_with_the_reason(phone: Phone, purged: Workshop) -> None:
    to_the_run(phone)
    work.start_run(phone)
    phone.page.get_by_role("button", name="Stop", exact=True).tap()
    phone.tap("Enter it and run again, with a reason")
    phone.tap("air in the line")
    work.start_run(phone)
    work.stop_run(phone)
    phone.see_title("Collect both sides")
    phone.all_sent()
    rows = StepAnswer.objects.filter(run__task=purged.task("panel-flow-test"), step="run").order_by("id")
    assert [row.repeat_reason for row in rows] == ["", "air in the line"]
    assert rows[1].outcome == "pass"
