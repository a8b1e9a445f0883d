"""Every screen of the phone: nobody is shut out, in any light, with either hand, in large letters."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from playwright.sync_api import expect

from fleet.common.actor import Role
from scheduling.models import Event
from tests.makers import at
from tests.mobile import work
from tests.mobile.looks import check, check_typing
from tests.mobile.phone import Phone
from tests.records.makers import PNG, Workshop


def walk_to_the_start(phone: Phone, look: str) -> None:
    """My work, the task, the run, its first two steps."""
    check(phone, f"{look}-work")
    phone.tap("Panel flow test")
    phone.see("What you need")
    check(phone, f"{look}-task")
    phone.page.get_by_label("Fluid aboard now").fill("22.0")
    phone.page.get_by_role("button", name="Start", exact=True).tap()
    phone.see_title("Panel flow test")
    check(phone, f"{look}-run")
    phone.tap("Begin")
    phone.see_title("Propeller area clear")
    check(phone, f"{look}-caution")
    phone.tap("I have read this")
    phone.see_title("Ground power on")
    check(phone, f"{look}-control")


def walk_to_the_run(phone: Phone, look: str) -> None:
    """A reading outside, repeated with its reason; outlets; the timed run."""
    phone.tap("I have read the caution")
    phone.page.get_by_role("button", name="Set", exact=True).tap()
    phone.see_title("Bus voltage")
    phone.type("27.4")
    check_typing(phone, f"{look}-reading")
    phone.tap("Enter 27.4 V")
    phone.see("no evidence")
    check(phone, f"{look}-reading-entered")
    phone.tap("Repeat it, with a reason")
    phone.tap("misread")
    phone.type("28.1")
    phone.tap("Enter 28.1 V")
    phone.see("Repeated: misread")
    phone.tap("Next")
    phone.tap("Fluid on: start the clock")
    phone.page.get_by_role("button", name="outlet wing left, not wet yet").tap()
    check(phone, f"{look}-outlets")
    phone.page.locator(".outlet").last.tap()
    phone.tap("Enter: all 2 wet")
    phone.tap("Next")
    work.start_run(phone)
    phone.page.wait_for_timeout(500)
    check(phone, f"{look}-timer")


def weigh(phone: Phone, look: str) -> None:
    """The same side weighed instead: three numbers at once, one of them below zero; then the volume after all."""
    phone.page.get_by_role("button", name="Weighed", exact=True).tap()
    for name, digits in (("Gross", "2155"), ("Tare", "520"), ("Temperature", "4")):
        phone.page.get_by_label(f"{name}, left", exact=True).tap()
        phone.type(digits)
    phone.page.get_by_role("button", name="Below zero: change the sign").tap()
    expect(phone.page.get_by_label("Temperature, left", exact=True)).to_have_value("-4")
    check_typing(phone, f"{look}-collect-weighed")
    phone.page.get_by_role("button", name="Volume", exact=True).tap()


def walk_to_the_signature(phone: Phone, look: str) -> None:
    """Both sides, the photo, the end, what is signed."""
    work.stop_run(phone)
    phone.see_title("Collect both sides")
    phone.type("1500")
    check_typing(phone, f"{look}-collect")
    weigh(phone, look)
    phone.tap("Next side")
    phone.type("1100")
    check_typing(phone, f"{look}-collect-both")
    phone.tap("Enter both sides")
    phone.tap("Next")
    work.photograph(phone)
    phone.see_title("Panel flow test")
    check(phone, f"{look}-all-answered")
    work.finish(phone)
    phone.tap("Read and sign")
    phone.see("Digest of all this")
    check(phone, f"{look}-sign")
    phone.page.locator(".signing").scroll_into_view_if_needed()
    check(phone, f"{look}-sign-form")


LOOKS = {
    "light": {},
    "dark-left-large": {"theme": "Dark hangar", "hand": "Left", "type": "Large"},
}


@pytest.mark.parametrize("look", LOOKS)
def test_no_screen_of_a_flow_test_shuts_anybody_out(phone: Phone, look: str) -> None:
    phone.open("settings")
    for words in LOOKS[look].values():
        phone.page.get_by_label(words, exact=True).check()
    check(phone, f"{look}-settings")
    phone.open("")
    phone.see_title("My work")
    walk_to_the_start(phone, look)
    walk_to_the_run(phone, look)
    walk_to_the_signature(phone, look)


def test_the_other_screens_shut_nobody_out(phone: Phone, purged: Workshop) -> None:
    for place, title in (
        ("find", "Find"),
        ("report", "Report an event"),
        ("outbox", "Outbox"),
        (f"aircraft/{purged.aircraft.registration}", purged.aircraft.registration),
        ("scan", "Scan a label"),
        ("task/999999", "Task"),
        (f"component/{purged.aircraft.installations.first().component_id}", "Porous panel"),
    ):
        phone.open(place)
        phone.see_title(title)
        check(phone, f"other-{place.split('/')[0]}")
    phone.page.evaluate(
        "import('/static/records/mobile/core/state.js').then((state) => state.change({ signInAsked: true }))"
    )
    phone.see("Name for signing in")
    check(phone, "other-sign-in")


def test_reduced_motion_and_the_hand_are_kept_over_a_reload(phone: Phone) -> None:
    phone.open("settings")
    for words in ("None", "Left", "Large", "Dark hangar"):
        phone.page.get_by_label(words, exact=True).check()
    phone.reload()
    root = phone.page.locator("html")
    for name, value in (("motion", "reduced"), ("hand", "left"), ("type", "large"), ("theme", "dark")):
        expect(root).to_have_attribute(f"data-{name}", value)


def test_an_event_is_reported_without_reception_with_its_photo(phone: Phone, purged: Workshop) -> None:
    phone.cut()
    phone.open(f"report/{purged.aircraft.registration}")
    phone.page.get_by_label("What happened").select_option("line-opened")
    phone.page.get_by_label("In your words").fill("Hose coupling undone at the pump")
    picture = {"name": "line.png", "mimeType": "image/png", "buffer": PNG}
    phone.page.locator("#event-photo").set_input_files(picture)
    expect(phone.page.locator(".photo img")).to_be_attached()
    phone.reload()
    expect(phone.page.get_by_label("In your words")).to_have_value("Hose coupling undone at the pump")
    phone.tap("Report it")
    phone.see_title("Reported")
    phone.waits(1)
    phone.reconnect()
    phone.all_sent()
    event = Event.objects.latest("id")
    assert (event.kind.code, event.note) == ("line-opened", "Hose coupling undone at the pump")
    assert event.photo.read() == PNG


def test_an_inspector_signs_on_their_own_phone(hand_phone: Callable[..., Phone], purged: Workshop) -> None:
    run = purged.flow_test(at(hours=2))
    purged.sign(run)
    phone = hand_phone(purged.house.person(Role.INSPECTOR))
    phone.start()
    phone.see("Yours to inspect and sign")
    phone.page.locator(f"a[href='#/sign/{run.pk}']").tap()
    phone.see("I inspected this work")
    phone.page.locator("#proof").fill("not this")
    phone.tap("Sign with password")
    phone.see("The password is not right. Nothing was signed.")
    assert run.signatures.count() == 1
    phone.page.locator("#proof").fill("grey-heron-4417")
    phone.tap("Sign with password")
    phone.see_title("Signed")
    assert run.signatures.count() == 2
