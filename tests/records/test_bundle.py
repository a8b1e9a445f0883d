"""What a phone is given to work with, and that it costs the same for ten tasks as for twenty."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.models import Aircraft
from scheduling.models import Bay, Shift, Slot, Task, WeekPlan
from scheduling.services.tasks import WantedTask, raise_task
from tests.makers import AircraftMaker, EquipmentMaker, api_of, at, make_house
from tests.records.makers import Workshop, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    return shop


def bundle(shop: Workshop, role: Role = Role.TECHNICIAN) -> dict[str, Any]:
    answer = api_of(shop.house.person(role)).get("/api/v1/work-bundle/")
    assert answer.status_code == 200
    found: dict[str, Any] = answer.json()
    return found


def test_free_tasks_of_my_base_come_with_their_texts(shop: Workshop) -> None:
    tasks = {piece["task"]["procedure"]: piece for piece in bundle(shop)["tasks"]}
    assert set(tasks) == {"panel-purge", "panel-flow-test"}
    test = tasks["panel-flow-test"]
    assert [wait["title"] for wait in test["task"]["waits_for"]] == ["Panel purge"]
    text = test["procedure"]["content"]
    assert "glass" not in [step["key"] for step in text["steps"]]
    assert [need["role"] for need in text["equipment"]] == ["voltmeter", "cylinder"]
    assert text["points"][1]["allowed"] == "1500 mL +450/−250 mL (1250 to 1950 mL, both allowed)"
    assert text["cautions"] == ["The fluid is harmful if swallowed."]
    assert (test["procedure"]["version"], test["run"], test["previous"]) == (1, None, None)


def test_an_option_fitted_brings_its_steps() -> None:
    shop = make_workshop(option_codes=["glass-cockpit"])
    shop.report()
    tasks = {piece["task"]["procedure"]: piece for piece in bundle(shop)["tasks"]}
    keys = [step["key"] for step in tasks["panel-flow-test"]["procedure"]["content"]["steps"]]
    assert "glass" in keys


def test_the_previous_result_stands_beside_its_limits(shop: Workshop) -> None:
    shop.do_purge(at(0, 1))
    shop.do_flow_test(at(0, 3))
    shop.report("line-opened", at(1))
    tasks = {piece["task"]["procedure"]: piece for piece in bundle(shop)["tasks"]}
    previous = tasks["panel-flow-test"]["previous"]
    readings = {row["point"]: row for row in previous["readings"]}
    assert previous["record"] == f"{shop.aircraft.registration}-000002"
    assert (readings["flow-left"]["value"], readings["flow-left"]["unit"]) == ("1500", "mL")
    assert readings["flow-left"]["allowed"].startswith("1500 mL +450/−250 mL")


def test_the_run_i_have_in_hand_comes_with_its_answers(shop: Workshop) -> None:
    run = shop.open("panel-purge", at(0, 1))
    shop.answer(run, "open", {"done": True})
    tasks = {piece["task"]["procedure"]: piece for piece in bundle(shop)["tasks"]}
    assert [row["step"] for row in tasks["panel-purge"]["run"]["answers"]] == ["open"]


def test_tools_say_whether_they_may_be_used(shop: Workshop) -> None:
    house = {"operator": shop.house.operator, "base": shop.house.base}
    EquipmentMaker(**house, code="lapsed", calibrated__due_on=at(-1).date())
    EquipmentMaker(**house, code="never", calibrated=False)
    tools = {tool["code"]: (tool["is_usable"], tool["words"]) for tool in bundle(shop)["equipment"]}
    assert tools["lapsed"] == (False, "calibration lapsed on 2\u00a0Mar\u00a02025")
    assert tools["never"] == (False, "never calibrated")
    assert tools[shop.cylinder.code] == (True, "calibrated until 31\u00a0Dec\u00a02099")


def test_maps_lots_people_and_kinds_of_event_are_there(shop: Workshop) -> None:
    found = bundle(shop)
    outlets = [place["code"] for place in found["aircraft"][0]["positions"] if place["is_outlet"]]
    assert outlets == ["outlet-wing-left", "outlet-wing-right", "outlet-strut-left", "outlet-strut-right"]
    assert [lot["batch"] for lot in found["lots"]] == [shop.lot.batch]
    assert found["lots"][0]["densities"][1] == {"celsius": "20.00", "grams_per_ml": "1.09000"}
    assert [person["name"] for person in found["people"]] == [shop.house.person(Role.INSPECTOR).full_name]
    assert "line-opened" in [kind["code"] for kind in found["event_kinds"]]


def test_a_colleagues_task_and_a_strangers_are_left_out(shop: Workshop) -> None:
    Task.objects.filter(procedure__code="panel-purge").update(assigned_to=shop.house.person(Role.INSPECTOR))
    other = make_workshop()
    other.report()
    assert [piece["task"]["procedure"] for piece in bundle(shop)["tasks"]] == ["panel-flow-test"]
    assert len(bundle(other)["tasks"]) == 2


def add_tasks(shop: Workshop, number: int) -> None:
    house = shop.house
    for _ in range(number):
        aircraft: Aircraft = AircraftMaker(
            operator=house.operator, base=house.base, aircraft_type=house.aircraft_type
        )
        wanted = WantedTask(aircraft.pk, "panel-flow-test", "Panel flow test", "for the test")
        raise_task(actor=house.actor(Role.DIRECTOR), wanted=wanted)


def test_ten_tasks_and_twenty_cost_the_same_queries(shop: Workshop) -> None:
    api = api_of(shop.house.person(Role.TECHNICIAN))
    add_tasks(shop, 10)
    with CaptureQueriesContext(connection) as ten:
        api.get("/api/v1/work-bundle/")
    add_tasks(shop, 10)
    with CaptureQueriesContext(connection) as twenty:
        assert len(api.get("/api/v1/work-bundle/").json()["tasks"]) == 22
    assert len(twenty) == len(ten)


def test_nobody_gets_a_bundle_without_signing_in() -> None:
    assert api_of().get("/api/v1/work-bundle/").status_code == 401


def test_somebody_without_open_work_gets_an_empty_bundle() -> None:
    house = make_house()
    found = api_of(house.person(Role.TECHNICIAN)).get("/api/v1/work-bundle/").json()
    assert (found["tasks"], len(found["aircraft"])) == ([], 1)


def test_the_published_plan_says_when_and_where_and_whose_shift_it_is(shop: Workshop) -> None:
    house, person = shop.house, shop.house.person(Role.TECHNICIAN)
    start = now() + timedelta(hours=2)
    for number in (1, 0):
        begins = start + timedelta(days=number)
        Shift.objects.create(
            person=person, base=house.base, starts_at=begins, ends_at=begins + timedelta(hours=8)
        )
    plan = WeekPlan.objects.create(
        operator=house.operator,
        base=house.base,
        monday=start.date(),
        state=WeekPlan.State.PUBLISHED,
        asked_at=now(),
    )
    bay = Bay.objects.create(base=house.base, name="Bay 1")
    purge, test = shop.task("panel-purge"), shop.task("panel-flow-test")
    for task, people in ((purge, [person]), (test, [])):
        slot = Slot.objects.create(
            plan=plan, task=task, bay=bay, starts_at=start, ends_at=start + timedelta(hours=1)
        )
        slot.people.set(people)
    found = bundle(shop)
    assert datetime.fromisoformat(found["shift"]["starts_at"]) == start
    slots = {piece["task"]["procedure"]: piece["slot"] for piece in found["tasks"]}
    assert (slots["panel-purge"]["bay"], slots["panel-purge"]["is_mine"]) == ("Bay 1", True)
    assert slots["panel-flow-test"]["is_mine"] is False


def test_finished_runs_wait_for_whose_signature_it_is(shop: Workshop) -> None:
    def waits(role: Role) -> list[tuple[str, bool]]:
        return [(row["meaning"], row["is_mine"]) for row in bundle(shop, role)["to_sign"]]

    shop.do_purge(at(0, 1))
    run = shop.flow_test(at(0, 3))
    assert (waits(Role.TECHNICIAN), waits(Role.INSPECTOR)) == ([("performed", True)], [("performed", False)])
    shop.sign(run)
    assert (waits(Role.TECHNICIAN), waits(Role.INSPECTOR)) == ([("inspected", False)], [("inspected", True)])
    other = make_workshop()
    assert bundle(other, Role.INSPECTOR)["to_sign"] == []
