"""Two people at the same moment: one of them wins, nothing is doubled, nobody waits for ever."""

from collections.abc import Callable
from threading import Barrier, Thread
from typing import Any

import pytest
from django.db import connection

from fleet.common.actor import Role
from fleet.common.errors import Refusal
from records.models import BenchRun, Signature, SignedRecord
from records.selectors.runs import content_of_run
from records.selectors.verification import verify_aircraft
from records.services.runs import Entry, Opening, answer_step, open_run
from records.services.signing import Signing, sign
from scheduling.models import Event, Task
from scheduling.services.events import EventReport, report_event
from scheduling.services.tasks import WantedTask, raise_task
from tests.makers import at
from tests.records.makers import Workshop, make_workshop, pump_runs

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def together(*acts: Callable[[], Any]) -> list[str]:
    """Run the acts at the same moment, each on a connection of its own; what each came to."""
    barrier = Barrier(len(acts))
    found = [""] * len(acts)

    def run(place: int) -> None:
        try:
            barrier.wait(10)
            acts[place]()
            found[place] = "done"
        except Refusal as refusal:
            found[place] = refusal.code
        finally:
            connection.close()

    threads = [Thread(target=run, args=(place,)) for place in range(len(acts))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert not any(thread.is_alive() for thread in threads)
    return found


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    return shop


def test_of_two_who_open_one_task_one_has_it(shop: Workshop) -> None:
    task = shop.task("panel-purge").pk
    technician, inspector = shop.technician, shop.inspector
    found = together(
        lambda: open_run(actor=technician, opening=Opening(task, "a", at(0, 1))),
        lambda: open_run(actor=inspector, opening=Opening(task, "b", at(0, 1))),
    )
    assert sorted(found) == ["done", "run_in_hand"]
    assert BenchRun.objects.count() == 1


def test_one_opening_sent_twice_at_once_is_one_run(shop: Workshop) -> None:
    task, technician = shop.task("panel-purge").pk, shop.technician
    opening = Opening(task, "a", at(0, 1))
    found = together(*[lambda: open_run(actor=technician, opening=opening)] * 4)
    assert found == ["done"] * 4
    assert BenchRun.objects.count() == 1


def test_one_answer_sent_twice_at_once_is_kept_once(shop: Workshop) -> None:
    run, technician = shop.open("panel-purge", at(0, 1)), shop.technician
    entry = Entry("open", "k", {"done": True}, at(0, 1, 1))
    found = together(*[lambda: answer_step(actor=technician, run_id=run.pk, entry=entry)] * 4)
    assert (found, run.answers.count()) == (["done"] * 4, 1)


def finished_purge(shop: Workshop, scope: str) -> BenchRun:
    wanted = WantedTask(shop.aircraft.pk, "panel-purge", f"Purge {scope}", "for the test", scope=scope)
    task, _ = raise_task(actor=shop.house.actor(Role.DIRECTOR), wanted=wanted)
    opening = Opening(task.pk, f"open {scope}", at(0, 1))
    run, _ = open_run(actor=shop.technician, opening=opening)
    shop.answer(run, "open", {"done": True})
    shop.answer(run, "pump", {"runs": pump_runs(run.started_at, 8, 12, 9)})
    return shop.finish(run)


def signing(run: BenchRun) -> Signing:
    return Signing(run.pk, "performed", content_of_run(run).digest, "password")


def test_records_sealed_at_once_on_one_aircraft_make_one_chain(shop: Workshop) -> None:
    runs = [finished_purge(shop, scope) for scope in ("one", "two", "three", "four")]
    technician = shop.technician
    orders = [signing(run) for run in runs]
    found = together(*[lambda order=order: sign(actor=technician, signing=order) for order in orders])
    assert found == ["done"] * 4
    records = SignedRecord.objects.order_by("sequence")
    assert [record.sequence for record in records] == [1, 2, 3, 4]
    assert verify_aircraft(shop.aircraft).flaws == ()


def test_one_run_signed_twice_at_once_is_sealed_once(shop: Workshop) -> None:
    run, technician = finished_purge(shop, "one"), shop.technician
    order = signing(run)
    found = together(*[lambda: sign(actor=technician, signing=order)] * 3)
    assert sorted(found) == ["done", "run_not_finished", "run_not_finished"]
    assert (Signature.objects.count(), SignedRecord.objects.count()) == (1, 1)


def test_an_event_reported_while_a_run_is_signed_leaves_both_whole(shop: Workshop) -> None:
    """Both lock the aircraft first: neither waits for the other in a circle."""
    run, technician, controller = (
        finished_purge(shop, "one"),
        shop.technician,
        shop.house.actor(Role.CONTROLLER),
    )
    order = signing(run)
    report = EventReport(shop.aircraft.pk, "line-opened", at(0, 6), "meanwhile")
    found = together(
        lambda: sign(actor=technician, signing=order),
        lambda: report_event(actor=controller, report=report),
    )
    assert found == ["done", "done"]
    assert (SignedRecord.objects.count(), Event.objects.count()) == (1, 2)
    assert Task.objects.filter(procedure__code="panel-flow-test", state="raised").count() == 1
