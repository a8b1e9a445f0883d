"""Working the flow test on a phone, step by step, as a technician does."""

from __future__ import annotations

from playwright.sync_api import expect

from tests.makers import PASSWORD
from tests.mobile.phone import Phone
from tests.records.makers import PNG

FIRST_STEPS = ("Propeller area clear", "Why this is done", "Ground power on", "Bus voltage")


def begin(phone: Phone) -> None:
    """From my work to the first step: the task, what is at hand, start."""
    phone.tap("Panel flow test")
    phone.see("The fluid is harmful if swallowed.")
    phone.page.get_by_label("Fluid aboard now").fill("22.0")
    phone.page.get_by_role("button", name="Start", exact=True).tap()
    phone.see_title("Panel flow test")
    phone.tap("Begin")
    phone.see_title("Propeller area clear")


def until_wet(phone: Phone, volts: str = "28.1") -> None:
    """Caution, control with its caution, voltage."""
    phone.tap("I have read this")
    phone.see_title("Ground power on")
    phone.tap("I have read the caution")
    phone.page.get_by_role("button", name="Set", exact=True).tap()
    phone.see_title("Bus voltage")
    phone.type(volts)
    phone.tap(f"Enter {volts} V")
    phone.tap("Next")


def wet(phone: Phone) -> None:
    """Both outlets wet, one tapped on the map where there is one."""
    phone.see_title("Wing outlets wet")
    phone.tap("Fluid on: start the clock")
    for outlet in phone.page.locator(".outlet").all():
        outlet.tap()
    phone.tap("Enter: all 2 wet")
    phone.tap("Next")


def start_run(phone: Phone) -> None:
    """The timed run begins."""
    phone.see_title("Timed run")
    phone.page.get_by_role("button", name="Start", exact=True).tap()


def stop_run(phone: Phone) -> None:
    """Wait for the end, stop, enter."""
    expect(phone.page.locator(".timer-over")).to_be_visible(timeout=10_000)
    phone.page.get_by_role("button", name="Stop", exact=True).tap()
    phone.tap("Enter 4")


def collect(phone: Phone, left: str = "1500", right: str = "1510") -> None:
    """What each side gave."""
    phone.see_title("Collect both sides")
    phone.type(left)
    phone.tap("Next side")
    phone.type(right)
    phone.tap("Enter both sides")
    phone.tap("Next")


def photograph(phone: Phone) -> None:
    """A picture of the cylinders."""
    phone.see_title("Photograph both cylinders")
    picture = {"name": "cylinders.png", "mimeType": "image/png", "buffer": PNG}
    phone.page.locator("#step-photo").set_input_files(picture)
    phone.tap("Enter this photo")


def finish(phone: Phone) -> None:
    """Nothing more to enter."""
    phone.see_title("Panel flow test")
    phone.tap("Finish: nothing more to enter")


def sign(phone: Phone, colleague: str = "") -> None:
    """Sign what is shown: oneself, or the colleague named."""
    if colleague:
        phone.page.get_by_label("Name for signing in of who signs").fill(colleague)
    phone.page.locator("#proof").fill(PASSWORD)
    phone.tap("Sign with password")
