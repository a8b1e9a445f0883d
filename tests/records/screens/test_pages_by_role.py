"""Who sees which page, which buttons stand on it, and what a door does for somebody whose role is another."""

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.common.actor import Role
from fleet.models import TrailEntry
from records.models import BenchRun, HandOver, Signature, SignedRecord, StepAnswer
from records.services.trends import refresh_every_trend
from scheduling.models import EventKind, Task
from tests.makers import AircraftMaker, at, browser_of, make_house
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db
EVERYONE = tuple(Role)
DOERS = (Role.TECHNICIAN, Role.INSPECTOR)


@pytest.fixture
def workshop() -> Workshop:
    """A purge and a flow test done and sealed, then another line opened: purge and flow test open again."""
    made = make_workshop()
    made.report()
    made.do_purge(at(hours=1))
    made.do_flow_test(at(hours=3))
    made.report(when=at(hours=6))
    refresh_every_trend(operator_id=made.house.operator.pk)
    return made


def pages(workshop: Workshop) -> list[str]:
    registration, record = workshop.aircraft.registration, SignedRecord.objects.latest("id")
    return [
        "/aircraft/",
        f"/aircraft/{registration}/",
        f"/aircraft/{registration}/?view=fitted",
        f"/aircraft/{registration}/?view=trends",
        f"/aircraft/{registration}/?view=history",
        f"/aircraft/{registration}/status.pdf",
        f"/aircraft/{registration}/label.pdf",
        f"/tasks/{workshop.task('panel-purge').pk}/",
        f"/tasks/{workshop.task('panel-flow-test').pk}/",
        f"/runs/{record.run_id}/",
        "/records/",
        f"/records/{record.number}/",
        f"/records/{record.number}/?check=chain",
        f"/records/{record.number}.pdf",
        f"/records/{record.number}/text/",
        f"/records/{record.number}/amend/",
        "/trends/",
        f"/trends/{registration}/panel-flow-test/flow-difference/",
        f"/trends/{registration}/panel-flow-test/flow-difference/paper.pdf",
    ]


def test_every_role_of_the_operator_reads_every_page(workshop: Workshop) -> None:
    for role in EVERYONE:
        client = browser_of(workshop.house.person(role))
        answers = {page: client.get(page).status_code for page in pages(workshop)}
        assert set(answers.values()) == {200}, (role, answers)


def test_a_stranger_finds_nothing(workshop: Workshop) -> None:
    stranger = browser_of(make_house().person(Role.DIRECTOR))
    own = ("/aircraft/", "/records/", "/trends/")
    answers = {page: stranger.get(page).status_code for page in pages(workshop) if page not in own}
    assert set(answers.values()) == {404}, answers
    for page in own:
        assert workshop.aircraft.registration not in stranger.get(page).content.decode()


def test_nobody_signed_in_is_led_to_the_door(workshop: Workshop) -> None:
    for page in pages(workshop):
        assert Client().get(page)["Location"].startswith("/sign-in/")


def commands(workshop: Workshop) -> list[tuple[str, dict[str, Any], tuple[Role, ...]]]:
    """Every button of these pages, what it sends, and whose it is."""
    purge, run = workshop.task("panel-purge"), BenchRun.objects.get(state="open")
    planners = (Role.CONTROLLER, Role.DIRECTOR)
    other = workshop.house.person(Role.INSPECTOR)
    number = SignedRecord.objects.earliest("id").number
    return [
        (f"/tasks/{workshop.task('panel-flow-test').pk}/start/", {"key": "x"}, DOERS),
        (f"/tasks/{purge.pk}/assign/", {"person": other.pk}, (*planners, Role.INSPECTOR)),
        (f"/tasks/{purge.pk}/withdraw/", {"reason": "no"}, planners),
        (f"/runs/{run.pk}/steps/open/", {"key": "x", "done": "yes"}, DOERS),
        (f"/runs/{run.pk}/pause/", {}, DOERS),
        (f"/runs/{run.pk}/resume/", {}, DOERS),
        (f"/runs/{run.pk}/hand-over/", {"to": other.pk, "note": "x"}, DOERS),
        (f"/runs/{run.pk}/abandon/", {"reason": "x"}, DOERS),
        (f"/runs/{run.pk}/finish/", {}, DOERS),
        (f"/runs/{run.pk}/at-hand/", {}, DOERS),
        (f"/records/{number}/amend/", {"reason": "x", "text": "y"}, (*DOERS, Role.DIRECTOR)),
    ]


def everything_written() -> list[Any]:
    return [
        list(BenchRun.objects.order_by("pk").values_list("pk", "state", "performer_id", "version")),
        list(Task.objects.order_by("pk").values_list("pk", "state", "assigned_to_id", "version")),
        StepAnswer.objects.count(),
        HandOver.objects.count(),
        Signature.objects.count(),
        SignedRecord.objects.count(),
        TrailEntry.objects.count(),
    ]


def test_a_button_of_another_role_is_refused_and_writes_nothing(workshop: Workshop) -> None:
    workshop.open("panel-purge", at(hours=7))
    before = everything_written()
    for role in EVERYONE:
        client = browser_of(workshop.house.person(role))
        for address, data, whose in commands(workshop):
            if role not in whose:
                assert client.post(address, data).status_code in (403, 409, 422), (role, address)
        assert everything_written() == before, role


def test_pages_offer_only_what_the_role_may_do(workshop: Workshop) -> None:
    purge = workshop.task("panel-purge")
    task_page, aircraft_page = f"/tasks/{purge.pk}/", f"/aircraft/{workshop.aircraft.registration}/"
    record_page = f"/records/{SignedRecord.objects.latest('id').number}/"

    def shown(role: Role, page: str) -> str:
        return browser_of(workshop.house.person(role)).get(page).content.decode()

    assert "Start the work" in shown(Role.TECHNICIAN, task_page)
    assert "Withdraw" not in shown(Role.TECHNICIAN, task_page)
    assert "Give it to" not in shown(Role.TECHNICIAN, task_page)
    director = shown(Role.DIRECTOR, task_page)
    assert "Withdraw" in director
    assert "Give it to" in director
    assert "Start the work" not in director
    for page, words in (
        (task_page, ("Start the work", "Withdraw", "Give it to", "I take it")),
        (aircraft_page, ("Report an event", "Record relief")),
        (record_page, (">Amend<",)),
    ):
        auditor = shown(Role.AUDITOR, page)
        assert [word for word in words if word in auditor] == []
    assert "Record relief" in shown(Role.DIRECTOR, aircraft_page)
    assert "Report an event" in shown(Role.TECHNICIAN, aircraft_page)


def test_work_that_answers_a_failure_offers_no_withdrawal(workshop: Workshop) -> None:
    EventKind.objects.filter(code="flow-test-failed").update(is_defect=True)
    workshop.do_purge(at(hours=7))
    workshop.flow_test(at(hours=9), "900", "1500")
    raised = Task.objects.filter(is_defect=True, state="raised").first()
    assert raised is not None
    client = browser_of(workshop.house.person(Role.DIRECTOR))
    assert "Withdraw" not in client.get(f"/tasks/{raised.pk}/").content.decode()


def test_the_aircraft_page_says_why_it_may_not_fly_and_leads_to_the_work(workshop: Workshop) -> None:
    client = browser_of(workshop.house.person(Role.CONTROLLER))
    page = client.get(f"/aircraft/{workshop.aircraft.registration}/").content.decode()
    assert "Not releasable" in page
    purge = workshop.task("panel-purge")
    assert f'<a href="/tasks/{purge.pk}/">Panel purge is open and no approved relief is running.</a>' in page


def counted(client: Client, page: str) -> int:
    with CaptureQueriesContext(connection) as queries:
        assert client.get(page).status_code == 200
    return len(queries)


def test_no_page_asks_more_often_for_a_long_past_than_for_a_short_one() -> None:
    workshop = make_workshop()
    house = workshop.house
    client = browser_of(house.person(Role.DIRECTOR))
    own = f"/aircraft/{workshop.aircraft.registration}/"
    views = (f"{own}?view={view}" for view in ("", "fitted", "history", "trends"))
    addresses = ("/aircraft/", "/records/", "/trends/", *views)

    def more(hours: int) -> None:
        AircraftMaker(operator=house.operator, base=house.base, aircraft_type=house.aircraft_type)
        workshop.do_purge(at(hours=hours + 1))
        workshop.do_flow_test(at(hours=hours + 2))
        workshop.report(when=at(hours=hours + 4))

    workshop.report()
    workshop.report(when=at(minutes=30))
    more(0)
    client.get(own)
    few = {address: counted(client, address) for address in addresses}
    for number in range(1, 4):
        more(10 * number)
    assert {address: counted(client, address) for address in addresses} == few
