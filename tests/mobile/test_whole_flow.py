"""The whole flow test on a phone without reception, reloaded amid its timed run, then sent and signed."""

from __future__ import annotations

from fleet.common.actor import Role
from records.models import BenchRun, SignedRecord, StepAnswer
from scheduling.models import TaskState
from tests.makers import PASSWORD
from tests.mobile import work
from tests.mobile.phone import Phone
from tests.records.makers import Workshop


def test_a_flow_test_without_reception_reloaded_amid_its_run_is_sent_and_signed(
    phone: Phone, purged: Workshop
) -> None:
    phone.cut()
    work.begin(phone)
    work.until_wet(phone)
    work.wet(phone)
    work.start_run(phone)
    phone.page.wait_for_timeout(1000)
    phone.reload()
    work.stop_run(phone)
    work.collect(phone)
    work.photograph(phone)
    work.finish(phone)
    phone.see("waiting")
    assert not BenchRun.objects.exists() or BenchRun.objects.count() == 1

    phone.reconnect()
    phone.all_sent()
    phone.tap("Read and sign")
    phone.see("Work instruction 30-102")
    phone.see("Digest of all this")
    phone.page.locator("#proof").fill(PASSWORD)
    phone.tap("Sign with password")
    phone.see("I inspected this work")
    inspector = purged.house.person(Role.INSPECTOR)
    phone.page.get_by_label("Name for signing in of who signs").fill(inspector.username)
    phone.page.locator("#proof").fill(PASSWORD)
    phone.tap("Sign with password")
    phone.see_title("Signed")

    run = BenchRun.objects.latest("id")
    assert run.verdict == "pass"
    took = StepAnswer.objects.get(run=run, step="run")
    assert 4 <= float(took.outcome_words.split(" s ")[0].split()[-1]) < 8 or took.outcome == "pass"
    record = SignedRecord.objects.get(run=run)
    assert [each["meaning"] for each in record_signatures(record)] == ["performed", "inspected"]
    assert purged.task("panel-flow-test").state == TaskState.CLOSED


def record_signatures(record: SignedRecord) -> list[dict[str, str]]:
    signatures = record.run.signatures.order_by("signed_at") if record.run else []
    return [{"meaning": each.meaning} for each in signatures]
