"""Screens met only now and then: nobody is shut out of them either."""

from __future__ import annotations

from collections.abc import Callable

from playwright.sync_api import expect

from fleet.common.actor import Role
from fleet.models import Equipment, FluidLot
from tests.makers import PASSWORD, at, make_person
from tests.mobile import work
from tests.mobile.looks import check
from tests.mobile.phone import Phone
from tests.records.makers import Workshop

TELL = "import('/static/records/mobile/core/state.js').then((state) => state.change(%s))"


def test_notices_shut_nobody_out(phone: Phone) -> None:
    phone.open("outbox")
    phone.page.evaluate(TELL % "{ held: 2, moved: 3600000, reachWords: 'Refused.', update: () => {} }")
    phone.see("A new version is here")
    check(phone, "rare-notices")
    phone.open("settings")
    phone.page.get_by_text("Passkeys", exact=True).tap()
    check(phone, "rare-passkeys")


def test_a_report_of_a_new_component_shuts_nobody_out(phone: Phone, purged: Workshop) -> None:
    phone.open(f"report/{purged.aircraft.registration}")
    phone.page.get_by_label("What happened").select_option("panel-replaced")
    expect(phone.page.get_by_label("Part number of what went on")).to_be_visible()
    check(phone, "rare-report")


def test_what_is_done_with_a_whole_run_shuts_nobody_out(phone: Phone, purged: Workshop) -> None:
    work.begin(phone)
    phone.tap("All steps")
    for words in ("Equipment and fluid", "Pause or hand over", "Give up this run"):
        phone.page.get_by_text(words, exact=True).tap()
    check(phone, "rare-run-acts")
    phone.page.get_by_role("button", name="Pause", exact=True).tap()
    phone.see("Nothing is lost.")
    check(phone, "rare-paused")


def test_the_pump_shuts_nobody_out(hand_phone: Callable[..., Phone], hasty: Workshop) -> None:
    phone = hand_phone(hasty.house.person(Role.TECHNICIAN))
    phone.start()
    phone.tap("Panel purge")
    phone.page.get_by_role("button", name="Start", exact=True).tap()
    phone.tap("Begin")
    phone.tap("Done, in order")
    phone.tap("Pump on: run 1")
    phone.see("The longest time allowed is reached.")
    check(phone, "rare-pump-overrun")
    phone.tap("Yes, off in time")
    check(phone, "rare-pump-rest")


def test_what_is_not_taken_shuts_nobody_out(
    phone: Phone, hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    other = hand_phone(make_person(Role.TECHNICIAN, purged.house.operator, base=purged.house.base))
    other.start()
    phone.cut()
    for each in (other, phone):
        work.begin(each)
    other.all_sent()
    phone.tap("I have read this")
    phone.reconnect()
    expect(phone.page.locator(".pill-count")).to_have_text("1 needs you")
    phone.page.locator(".pill").tap()
    phone.see("is in hand already")
    check(phone, "rare-conflict")
    phone.tap("Set aside")
    phone.tap("Yes, set aside with everything of this run")
    phone.see("Nothing waits, 5 set aside")
    phone.page.get_by_text("Set aside (").tap()
    check(phone, "rare-set-aside")


def test_nothing_to_use_is_said_and_shuts_nobody_out(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    Equipment.objects.filter(kind="voltmeter").update(withdrawn_on=at().date())
    FluidLot.objects.update(state=FluidLot.State.QUARANTINED)
    phone = hand_phone(purged.house.person(Role.TECHNICIAN))
    phone.start()
    phone.tap("Panel flow test")
    expect(phone.button("To start: choose voltmeter")).to_be_disabled()
    phone.see("There is none of this kind.")
    check(phone, "rare-nothing-to-use")


def test_the_second_signature_and_the_record_shut_nobody_out(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    run = purged.flow_test(at(hours=2))
    purged.sign(run)
    phone = hand_phone(purged.house.person(Role.INSPECTOR))
    phone.start()
    check(phone, "rare-waits-for-signatures")
    phone.open(f"sign/{run.pk}")
    phone.see("I inspected this work")
    check(phone, "rare-second-signature")
    phone.page.locator("#proof").fill(PASSWORD)
    phone.tap("Sign with password")
    phone.see("Only PASS closes a task")
    check(phone, "rare-signed")
