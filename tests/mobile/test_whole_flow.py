"""The whole flow test on a phone without reception, reloaded amid its timed run, then sent and signed."""

from __future__ import annotations

from datetime import datetime, timedelta

from fleet.common.actor import Role
from records.models import BenchRun, SignedRecord, StepAnswer
from scheduling.models import TaskState
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
    flow_test = purged.task("panel-flow-test")
    assert not BenchRun.objects.filter(task=flow_test).exists()

    phone.reconnect()
    phone.all_sent()
    phone.tap("Read and sign")
    phone.see("Work instruction 30-102")
    phone.see("Digest of all this")
    work.sign(phone)
    phone.see("I inspected this work")
    inspector = purged.house.person(Role.INSPECTOR)
    work.sign(phone, inspector.username)
    phone.see_title("Signed")
    phone.see("The task is closed.")
    everything_is_there(purged)


def everything_is_there(purged: Workshop) -> None:
    """The true length of the timed run, both signatures, the record, and the task closed by it."""
    flow_test = purged.task("panel-flow-test")
    run = BenchRun.objects.get(task=flow_test)
    assert run.verdict == "pass"
    timed = StepAnswer.objects.get(run=run, step="run").answer
    began, ended = (datetime.fromisoformat(timed[name]) for name in ("started_at", "stopped_at"))
    assert timedelta(seconds=4) <= ended - began < timedelta(seconds=7)
    record = SignedRecord.objects.get(run=run)
    technician, inspector = purged.house.person(Role.TECHNICIAN), purged.house.person(Role.INSPECTOR)
    signed = list(run.signatures.order_by("signed_at").values_list("meaning", "user"))
    assert signed == [("performed", technician.pk), ("inspected", inspector.pk)]
    assert (flow_test.state, flow_test.proof) == (TaskState.CLOSED, record.number)
