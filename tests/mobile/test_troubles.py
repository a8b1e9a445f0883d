"""What goes wrong in a hangar, one by one: nothing entered is lost, and each refusal has a way out."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from playwright.sync_api import expect

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.selectors.people import actor_for
from records.models import BenchRun, StepAnswer
from records.services.provisions import hand_over
from scheduling.models import ProcedureVersion
from tests.makers import PASSWORD, at, make_person
from tests.mobile import work
from tests.mobile.phone import Phone
from tests.records.makers import Workshop


def answers(workshop: Workshop) -> list[str]:
    rows = StepAnswer.objects.filter(
        run__aircraft=workshop.aircraft, run__task=workshop.task("panel-flow-test")
    )
    return list(rows.order_by("id").values_list("step", flat=True))


def readings(workshop: Workshop) -> list[str]:
    rows = StepAnswer.objects.filter(run__task=workshop.task("panel-flow-test"), step="voltage").order_by(
        "id"
    )
    return [row.answer["value"] for row in rows]


def test_airplane_mode_keeps_every_entry_and_sends_it_afterwards(phone: Phone, purged: Workshop) -> None:
    phone.cut()
    work.begin(phone)
    work.until_wet(phone)
    phone.waits(7)
    expect(phone.page.locator(".pill-reach")).to_have_text("No reception")
    assert not BenchRun.objects.filter(task=purged.task("panel-flow-test")).exists()
    phone.reconnect()
    phone.all_sent()
    assert answers(purged) == ["clear", "power", "voltage"]


def test_a_reload_keeps_digits_typed_but_not_entered(phone: Phone, purged: Workshop) -> None:
    phone.cut()
    work.begin(phone)
    phone.tap("I have read this")
    phone.tap("I have read the caution")
    phone.page.get_by_role("button", name="Set", exact=True).tap()
    phone.see_title("Bus voltage")
    phone.type("28.")
    phone.kept('"value":"28."')
    phone.reload()
    phone.see_title("Bus voltage")
    phone.type("3")
    phone.tap("Enter 28.3 V")
    phone.see("Inside its limits")
    phone.reconnect()
    phone.all_sent()
    assert readings(purged) == ["28.3"]


def test_a_crash_loses_nothing_entered(phone: Phone, purged: Workshop) -> None:
    phone.cut()
    work.begin(phone)
    work.until_wet(phone)
    phone.see_title("Wing outlets wet")
    phone.tap("Fluid on: start the clock")
    phone.page.locator(".outlet").first.tap()
    phone.see("1 of 2 wet")
    phone.kept('"wet":{"outlet-wing-left":')
    phone.crash()
    phone.see_title("Wing outlets wet")
    phone.see("1 of 2 wet")
    phone.waits(7)
    phone.reconnect()
    phone.all_sent()
    assert answers(purged) == ["clear", "power", "voltage"]


# The browser of the tests does not hold its databases to a quota, so the refusal itself is made up: the same error
# at the same place.
FULL = """
(() => {
  const put = IDBObjectStore.prototype.put;
  IDBObjectStore.prototype.put = function (...row) {
    if (window.isFull) throw new DOMException("The quota has been exceeded.", "QuotaExceededError");
    return put.apply(this, row);
  };
})();
"""


def test_full_storage_holds_what_is_entered_says_so_and_sends_it(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    phone = hand_phone(purged.house.person(Role.TECHNICIAN), script=FULL)
    phone.start()
    phone.cut()
    work.begin(phone)
    phone.page.evaluate("window.isFull = true")
    phone.tap("I have read this")
    phone.see("This phone’s storage is full.")
    phone.see_title("Ground power on")
    phone.waits(5)
    phone.reconnect()
    phone.all_sent()
    assert answers(purged) == ["clear"]
    phone.page.evaluate("window.isFull = false")
    phone.tap("I have read the caution")
    phone.page.get_by_role("button", name="Set", exact=True).tap()
    phone.see_title("Bus voltage")
    expect(phone.page.get_by_text("This phone’s storage is full.")).to_have_count(0)
    phone.reload()
    phone.see_title("Bus voltage")
    phone.all_sent()
    assert answers(purged) == ["clear", "power"]


def test_an_expired_session_keeps_the_outbox_and_goes_on_after_signing_in(
    phone: Phone, purged: Workshop
) -> None:
    work.begin(phone)
    phone.all_sent()
    Session.objects.all().delete()
    phone.tap("I have read this")
    sheet = phone.page.get_by_role("dialog")
    expect(sheet).to_be_visible()
    expect(sheet.get_by_text("1 entry waits on this phone")).to_be_visible()
    sheet.get_by_role("button", name="Go on, sign in later").tap()
    phone.tap("I have read the caution")
    phone.page.get_by_role("button", name="Set", exact=True).tap()
    phone.see_title("Bus voltage")
    expect(sheet).to_be_hidden()
    phone.waits(2)
    assert answers(purged) == []
    phone.page.locator(".pill").tap()
    phone.tap("Sign in and send")
    sheet.get_by_label("Password").fill("not this")
    sheet.get_by_role("button", name="Sign in", exact=True).tap()
    expect(sheet.get_by_text("Name or password is not right.")).to_be_visible()
    sheet.get_by_label("Password").fill(PASSWORD)
    sheet.get_by_role("button", name="Sign in", exact=True).tap()
    expect(sheet).to_be_hidden()
    phone.all_sent()
    assert answers(purged) == ["clear", "power"]
    phone.tap("Back")
    phone.see_title("Bus voltage")


SKEWED = """
(() => {
  const Real = Date;
  let hours = Number(HOURS);
  const real = Real.now.bind(Real);
  Date.now = () => real() + hours * 3600000;
  window.setTheClock = (wanted) => { hours = wanted; };
})();
"""


def skewed(hand_phone: Callable[..., Phone], workshop: Workshop, hours: int) -> Phone:
    """A technician's phone whose clock is wrong by so much, started and then without reception."""
    script = SKEWED.replace("HOURS", str(hours))
    phone = hand_phone(workshop.house.person(Role.TECHNICIAN), script=script)
    phone.start()
    phone.cut()
    return phone


# As on a phone whose clock was put wrong after its last word with the server.
FORGET_CORRECTION = """
() => new Promise((done) => {
  const opening = indexedDB.open("verglas-phone");
  opening.onsuccess = () => {
    const change = opening.result.transaction("kept", "readwrite");
    change.objectStore("kept").put(0, "correction");
    change.oncomplete = () => { opening.result.close(); done(true); };
  };
})
"""


@pytest.mark.parametrize("hours", [1, -1], ids=["an hour ahead", "an hour behind"])
def test_a_clock_wrong_by_an_hour_gives_true_times(
    hand_phone: Callable[..., Phone], purged: Workshop, hours: int
) -> None:
    """Also where the phone has never been told the time: what was entered is moved when it learns it."""
    phone = skewed(hand_phone, purged, hours)
    phone.page.evaluate(FORGET_CORRECTION)
    phone.reload()
    work.begin(phone)
    work.until_wet(phone)
    phone.reconnect()
    phone.all_sent()
    run = BenchRun.objects.get(task=purged.task("panel-flow-test"))
    captured = StepAnswer.objects.get(run=run, step="voltage").captured_at
    assert abs(now() - captured) < timedelta(minutes=2)
    assert abs(now() - run.started_at) < timedelta(minutes=2)


def test_a_clock_put_right_amid_a_timed_run_does_not_change_how_long_it_ran(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    phone = skewed(hand_phone, purged, 1)
    work.begin(phone)
    work.until_wet(phone)
    work.wet(phone)
    work.start_run(phone)
    phone.page.wait_for_timeout(1500)
    phone.page.evaluate("window.setTheClock(0)")
    work.stop_run(phone)
    phone.reconnect()
    phone.all_sent()
    run = StepAnswer.objects.get(run__task=purged.task("panel-flow-test"), step="run")
    assert run.outcome == "pass"
    assert abs(now() - run.captured_at) < timedelta(minutes=2)


def test_commands_stay_in_order_where_the_clock_was_put_back_before_a_reload(
    hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    phone = skewed(hand_phone, purged, 1)
    work.begin(phone)
    phone.context.add_init_script("window.setTheClock(0);")
    phone.reload()
    work.until_wet(phone)
    phone.reconnect()
    phone.all_sent()
    assert answers(purged) == ["clear", "power", "voltage"]


def test_two_phones_on_one_task_end_in_one_run_with_both_readings(
    phone: Phone, hand_phone: Callable[..., Phone], purged: Workshop
) -> None:
    colleague = make_person(Role.TECHNICIAN, purged.house.operator, base=purged.house.base)
    other = hand_phone(colleague)
    other.start()
    for each, volts in ((phone, "28.1"), (other, "28.2")):
        each.cut()
        work.begin(each)
        work.until_wet(each, volts)
    other.reconnect()
    other.all_sent()
    phone.reconnect()
    expect(phone.page.locator(".pill-count")).to_have_text("1 needs you")
    phone.page.locator(".pill").tap()
    phone.see("is in hand already")
    phone.tap("Put my readings into the run that is in hand")
    phone.see("Ask for it to be handed over to you")
    assert readings(purged) == ["28.2"]

    run = BenchRun.objects.get(task=purged.task("panel-flow-test"))
    technician = purged.house.person(Role.TECHNICIAN)
    hand_over(actor=actor_for(colleague), run_id=run.pk, to_user_id=technician.pk, note_words="both wet")
    phone.tap("Put my readings into the run that is in hand")
    phone.see_title("Panel flow test")
    phone.all_sent()
    assert readings(purged) == ["28.2", "28.1"]
    assert (
        StepAnswer.objects.filter(run=run, step="voltage").latest("id").repeat_reason
        == "entered on two phones at once"
    )


def test_a_new_procedure_version_meanwhile_carries_over_what_reads_the_same(
    phone: Phone, purged: Workshop
) -> None:
    phone.cut()
    work.begin(phone)
    work.until_wet(phone)
    task = purged.task("panel-flow-test")
    old = ProcedureVersion.objects.get(procedure=task.procedure)
    steps = [
        step | {"title": "Bus voltage under load"} if step["key"] == "voltage" else step
        for step in old.content["steps"]
    ]
    ProcedureVersion.objects.filter(pk=old.pk).update(state="superseded")
    ProcedureVersion.objects.create(
        procedure=old.procedure,
        number=2,
        state="current",
        content=old.content | {"steps": steps},
        approved_reference=old.approved_reference,
        approved_revision="4",
        ata=old.ata,
        consequence=old.consequence,
        minutes=old.minutes,
        needs_countersignature=True,
        written_at=now(),
    )
    phone.reconnect()
    expect(phone.page.locator(".pill-count")).to_have_text("1 needs you")
    phone.page.locator(".pill").tap()
    phone.see("is worked by version 2 now")
    phone.tap("Go on with the new text")
    phone.see_title("Panel flow test")
    phone.all_sent()
    run = BenchRun.objects.get(task=task)
    assert run.procedure_version.number == 2
    assert list(run.answers.order_by("id").values_list("step", flat=True)) == ["clear", "power"]
    phone.tap("Go on")
    phone.see_title("Bus voltage under load")


def test_signing_needs_the_server_and_says_so_before_and_amid_it(phone: Phone, purged: Workshop) -> None:
    run = purged.flow_test(at(hours=2))
    with phone.page.expect_response("**/work-bundle/"):
        phone.tap("Load today’s work again")
    phone.cut()
    phone.page.locator(f"a[href='#/sign/{run.pk}']").tap()
    phone.see("Signing needs the server. No reception here.")
    phone.reconnect()
    phone.tap("Try again")
    phone.see("I did this work")
    phone.page.locator("#proof").fill(PASSWORD)
    phone.cut()
    phone.tap("Sign with password")
    phone.see("it is not known yet whether this was signed")
    assert not run.signatures.exists()
    phone.reconnect()
    phone.page.locator("#proof").fill(PASSWORD)
    phone.tap("Sign with password")
    phone.see("I inspected this work")
    assert run.signatures.count() == 1


def test_nothing_is_signed_before_everything_is_sent(phone: Phone, purged: Workshop) -> None:
    work.begin(phone)
    phone.all_sent()
    run = BenchRun.objects.get(task=purged.task("panel-flow-test"))
    phone.cut()
    phone.tap("I have read this")
    phone.waits(1)
    phone.open(f"sign/{run.pk}")
    phone.see("Signing needs the server: 1 entry waits to be sent first.")
