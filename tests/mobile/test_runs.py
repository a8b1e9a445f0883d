"""What a technician does with a whole run, and with the pump and the camera."""

from __future__ import annotations

import io
from collections.abc import Callable

import segno
from playwright.sync_api import expect

from fleet.common.actor import Role
from records.models import BenchRun, StepAnswer
from tests.makers import make_person
from tests.mobile import work
from tests.mobile.phone import Phone
from tests.records.makers import Workshop


def test_a_run_is_paused_resumed_handed_over_and_gone_on_with(
    phone: Phone, hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    colleague = make_person(
        Role.TECHNICIAN, purged.house.operator, base=purged.house.base, first_name="Berit"
    )
    with phone.page.expect_response("**/work-bundle/"):
        phone.tap("Load today’s work again")
    work.begin(phone)
    work.until_wet(phone)
    phone.tap("All steps")
    phone.page.get_by_text("Pause or hand over").tap()
    phone.page.get_by_role("button", name="Pause", exact=True).tap()
    phone.see("Nothing is lost.")
    phone.all_sent()
    run = BenchRun.objects.get(task=purged.task("panel-flow-test"))
    assert run.state == "paused"
    phone.page.get_by_role("button", name="Go on with it").tap()
    phone.all_sent()
    expect(phone.page.get_by_label("Hand over to")).to_be_visible()
    phone.page.get_by_label("Hand over to").select_option(str(colleague.pk))
    phone.page.get_by_label("Where the work stands").fill("Voltage read, outlets to come")
    phone.tap("Hand over")
    phone.see_title("My work")
    phone.all_sent()
    run.refresh_from_db()
    assert (run.state, run.performer) == ("open", colleague)

    other = hand_phone(colleague)
    other.start()
    other.page.locator(".cards a", has_text="Panel flow test").first.tap()
    other.see("3 of 7 steps")
    other.tap("Go on")
    work.wet(other)
    other.all_sent()
    assert StepAnswer.objects.get(run=run, step="wet").by == colleague


def test_a_run_is_given_up_with_a_reason(phone: Phone, purged: Workshop) -> None:
    work.begin(phone)
    phone.tap("All steps")
    phone.page.get_by_text("Give up this run").tap()
    expect(phone.button("Give it up")).to_be_disabled()
    phone.page.get_by_label("Why is it given up?").fill("Ground power failed")
    phone.tap("Give it up")
    phone.all_sent()
    run = BenchRun.objects.get(task=purged.task("panel-flow-test"))
    assert (run.state, run.abandoned_reason) == ("abandoned", "Ground power failed")


def begin_purge(phone: Phone) -> None:
    phone.tap("Panel purge")
    phone.page.get_by_role("button", name="Start", exact=True).tap()
    phone.tap("Begin")
    phone.see_title("Collecting sheet in place")
    phone.tap("Done, in order")
    phone.see_title("Pump in short runs")


def test_the_pump_rests_and_stops_in_time_also_over_a_reload(
    hand_phone: Callable[..., Phone], hasty: Workshop
) -> None:
    phone = hand_phone(hasty.house.person(Role.TECHNICIAN))
    phone.start()
    phone.cut()
    begin_purge(phone)
    phone.tap("Pump on: run 1")
    phone.page.wait_for_timeout(800)
    phone.tap("Pump off")
    resting = phone.page.get_by_role("button", name="Rest:")
    expect(resting).to_be_disabled()
    phone.reload()
    expect(resting).to_be_disabled()
    expect(phone.button("Pump on: run 2")).to_be_enabled(timeout=6000)
    phone.tap("Pump on: run 2")
    phone.reload()
    phone.see("The longest time allowed is reached.")
    phone.tap("Yes, off in time")
    phone.tap("Enter these 2 runs")
    phone.reconnect()
    phone.all_sent()
    answer = StepAnswer.objects.get(run__task=hasty.task("panel-purge"), step="pump")
    assert answer.outcome == "pass"
    assert len(answer.answer["runs"]) == 2


def test_a_pump_left_on_too_long_is_told_as_it_was(hand_phone: Callable[..., Phone], hasty: Workshop) -> None:
    phone = hand_phone(hasty.house.person(Role.TECHNICIAN))
    phone.start()
    begin_purge(phone)
    phone.tap("Pump on: run 1")
    phone.see("The longest time allowed is reached.")
    phone.tap("No, it ran until now")
    expect(phone.button("Pump on: run 2")).to_be_enabled(timeout=6000)
    phone.tap("Pump on: run 2")
    phone.tap("Pump off")
    phone.see("Outside its limits")
    phone.tap("Enter these 2 runs")
    phone.all_sent()
    answer = StepAnswer.objects.get(run__task=hasty.task("panel-purge"), step="pump")
    assert answer.outcome == "fail"


def test_a_picture_of_a_label_opens_its_aircraft(hand_phone: Callable[..., Phone], purged: Workshop) -> None:
    """Chromium here has no reader of its own: the one brought along reads it."""
    phone = hand_phone(purged.house.person(Role.TECHNICIAN), script="delete window.BarcodeDetector;")
    phone.start()
    phone.open("scan")
    phone.see("No camera here.")
    picture = io.BytesIO()
    segno.make(f"{phone.address}/q/a/{purged.aircraft.registration}/").save(picture, kind="png", scale=8)
    label = {"name": "label.png", "mimeType": "image/png", "buffer": picture.getvalue()}
    phone.page.locator("#label-picture").set_input_files(label)
    phone.see_title(purged.aircraft.registration)


def test_a_component_is_opened_from_its_label(phone: Phone, purged: Workshop) -> None:
    part = purged.aircraft.installations.get(removed_at=None).component
    phone.page.goto(f"{phone.address}/q/c/{part.pk}/")
    phone.see(part.serial_number)
    phone.tap(f"Open {purged.aircraft.registration}")
    phone.see_title(purged.aircraft.registration)
