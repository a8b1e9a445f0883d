"""Who may see and do what on the scheduling screens, and how much pages ask of the database."""

from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.common.actor import Role
from scheduling.models import EventKind, ProcedureVersion, Task, TriggerRule
from scheduling.screens.procedure_data import frame_of, rows_of
from tests.makers import AircraftMaker, browser_of, make_house
from tests.scheduling.makers import FLOW_TEST, TaskMaker, Workshop, make_relief, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop(rules=("panel-replaced", "line-opened"))


RULE = {
    "code": "after-strike",
    "title": "After a strike",
    "event_kind": "propeller-strike",
    "source": "Maintenance manual 05-50",
    "raises-rows": "1",
    "raises-0-procedure_code": "panel-purge",
    "raises-0-before": "next_flight",
}
PROCEDURE: dict[str, Any] = {
    "title": "New test",
    "approved_reference": "Maintenance manual 30-12",
    "approved_revision": "5",
    "ata": "30-12",
    "consequence": "icing",
    "minutes": "90",
    "people": "2",
    **frame_of(FLOW_TEST),
    **{f"{name}-rows": "0" for name in rows_of(FLOW_TEST)},
}


PAGES: dict[str, set[Role]] = {
    "/": set(Role),
    "/in-the-way/": set(Role),
    "/tasks/": set(Role),
    "/events/": set(Role),
    "/rules/": set(Role),
    "/rules/try/": set(Role),
    "/rules/rule-line-opened/": set(Role),
    "/event-kinds/": set(Role),
    "/procedures/": set(Role),
    "/procedures/panel-purge/": set(Role),
    "/procedures/panel-purge/versions/1/": set(Role),
    "/events/new/": {Role.CONTROLLER, Role.TECHNICIAN, Role.INSPECTOR, Role.DIRECTOR},
    "/rules/new/": {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR},
    "/rules/rule-line-opened/edit/": {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR},
    "/procedures/new/": {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR},
    "/procedures/panel-purge/edit/": {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR},
}
BUTTONS = {
    "/tasks/give/": {"task": "{task}", "person": ""},
    "/tasks/withdraw/?task={task}": {"reason": "x"},
    "/tasks/new/": {"aircraft": "{registration}", "procedure": "panel-purge", "why": "x", "before": "none"},
    "/rules/new/": {**RULE, "do": "save"},
    "/rules/rule-line-opened/off/": {},
    "/event-kinds/": {"code": "bird-strike", "name": "Bird strike", "change": "none"},
    "/event-kinds/long-storage/retire/": {},
    "/procedures/new/": {**PROCEDURE, "code": "new-test", "do": "save"},
    "/procedures/panel-purge/publish/": {},
    "/procedures/panel-purge/discard/": {},
    "/procedures/panel-purge/withdraw/": {"reason": "x"},
}


@pytest.mark.parametrize("role", list(Role))
def test_every_page_is_for_its_roles(workshop: Workshop, role: Role) -> None:
    page = browser_of(workshop.house.person(role))
    found = {address: page.get(address).status_code for address in PAGES}
    assert found == {address: 200 if role in roles else 403 for address, roles in PAGES.items()}


def test_somebody_not_signed_in_is_led_to_the_door(workshop: Workshop) -> None:
    for address in PAGES:
        assert browser_of().get(address)["Location"].startswith("/sign-in/?next=")


def written() -> list[Any]:
    return [
        list(Task.objects.values_list("pk", "state", "version")),
        list(TriggerRule.objects.values_list("code", "version", "is_enabled")),
        list(EventKind.objects.values_list("code", "retired_on")),
        list(ProcedureVersion.objects.values_list("procedure__code", "number", "state")),
    ]


@pytest.mark.parametrize("role", [Role.AUDITOR, Role.TECHNICIAN, Role.INSPECTOR])
def test_no_button_works_for_who_may_not_press_it(workshop: Workshop, role: Role) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    page = browser_of(workshop.house.person(role))
    names = {"task": task.pk, "registration": workshop.aircraft.registration}
    for address, body in BUTTONS.items():
        before = written()
        sent = {
            key: value.format(**names) if isinstance(value, str) else value for key, value in body.items()
        }
        status = page.post(address.format(**names), sent).status_code
        assert (address, status, written()) == (address, 403, before)


def test_a_stranger_finds_no_page(workshop: Workshop) -> None:
    event = workshop.report("line-opened", "first").event
    page = browser_of(make_house().person(Role.DIRECTOR))
    for address in (
        f"/events/{event.pk}/",
        f"/events/{event.pk}/photo/",
        "/rules/rule-line-opened/",
        "/procedures/panel-purge/",
        "/procedures/panel-purge/edit/",
        f"/events/new/?aircraft={workshop.aircraft.registration}",
    ):
        assert (address, page.get(address).status_code) == (address, 404)


def test_pages_ask_as_much_of_twenty_rows_as_of_ten(workshop: Workshop) -> None:
    page = browser_of(workshop.house.person(Role.DIRECTOR))
    addresses = ("/", "/in-the-way/", "/tasks/", "/events/", "/rules/", "/procedures/")
    asked: dict[str, list[int]] = {address: [] for address in addresses}
    page.get("/")
    for turn in range(2):
        for number in range(10):
            aircraft = AircraftMaker(
                operator=workshop.operator,
                base=workshop.house.base,
                aircraft_type=workshop.house.aircraft_type,
            )
            TaskMaker(aircraft=aircraft)
            make_relief(aircraft, workshop.house.person(Role.DIRECTOR))
            workshop.report("line-opened", f"{turn}-{number}", aircraft=aircraft)
        for address in addresses:
            with CaptureQueriesContext(connection) as queries:
                page.get(address)
            asked[address].append(len(queries))
    assert {address: ten for address, (ten, _) in asked.items()} == {
        address: twenty for address, (_, twenty) in asked.items()
    }
