"""The scheduling doors of the API: journeys, refusals in words, roles, keys, entity tags."""

from typing import Any

import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from rest_framework.test import APIClient

from fleet.common.actor import Role
from fleet.models import Installation
from scheduling.models import Event, EventKind, ProcedureVersion, Task, TriggerRule
from tests.makers import api_of, at, make_house
from tests.scheduling.makers import CONTENT, PURGE_THEN_TEST, TaskMaker, Workshop, close_task, make_workshop
from tests.words import plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop(rules=("panel-replaced", "tank-refitted", "line-opened"))


def client(workshop: Workshop, role: Role | str) -> APIClient:
    return api_of(workshop.house.person(role))


def send(api: APIClient, address: str, body: Any = None, key: str = "", **headers: str) -> Any:
    extra = {"Idempotency-Key": key} if key else {}
    return api.post(f"/api/v1/{address}", body, format="json", headers={**extra, **headers})


def report(workshop: Workshop, kind: str, key: str, **more: Any) -> Any:
    body = {"aircraft": workshop.aircraft.registration, "kind": kind, "at": at().isoformat(), **more}
    return send(client(workshop, Role.TECHNICIAN), "events/", body, key)


def replace_panel(workshop: Workshop, key: str, **more: Any) -> Any:
    spare = workshop.spare("panel-left")
    return report(workshop, "panel-replaced", key, position="panel-left", component_on=spare.pk, **more)


def test_the_story_of_a_replaced_panel_runs_through_the_api(workshop: Workshop) -> None:
    answer = replace_panel(workshop, "k1")
    assert answer.status_code == 201
    body = answer.json()
    assert [task["title"] for task in body["raised"]] == ["Panel purge", "Panel flow test"]
    purge, test = (task["id"] for task in body["raised"])
    api = client(workshop, Role.TECHNICIAN)
    refused = send(api, f"tasks/{test}/start/")
    assert (refused.status_code, refused["Content-Type"]) == (409, "application/problem+json")
    assert refused.json()["code"] == "waits_for_other_work"
    assert refused.json()["detail"] == "Panel flow test cannot start: Panel purge must be closed first."
    assert send(api, f"tasks/{purge}/start/").json()["state"] == "in_work"
    close_task(Task.objects.get(pk=purge))
    assert send(api, f"tasks/{test}/start/").json()["state"] == "in_work"
    story = api.get(answer["Location"]).json()
    assert [line["task"]["id"] for line in story["raised"]] == [purge, test]
    assert plain(story["raised"][0]["why"]).startswith("Panel replaced at panel left on 3 Mar 2025: rule")


def test_a_tank_refit_keeps_the_tank_and_raises_its_work(workshop: Workshop) -> None:
    tank = Installation.objects.get(position__code="tank").component
    body = report(workshop, "tank-refitted", "k1", position="tank").json()
    assert (body["event"]["component_off"], body["event"]["component_on"]) == (tank.pk, tank.pk)
    assert len(body["raised"]) == 2


def test_two_events_before_the_purge_share_its_tasks(workshop: Workshop) -> None:
    first = replace_panel(workshop, "k1").json()
    second = report(workshop, "line-opened", "k2", at=at(hours=1).isoformat()).json()
    assert second["raised"] == []
    assert [t["id"] for t in second["joined"]] == [t["id"] for t in first["raised"]]
    task = client(workshop, Role.AUDITOR).get(f"/api/v1/tasks/{first['raised'][0]['id']}/").json()
    assert [why["event"] for why in task["why"]] == [first["event"]["id"], second["event"]["id"]]


def test_an_event_after_the_signed_purge_blocks_the_flow_test_again(workshop: Workshop) -> None:
    purge, test = (task["id"] for task in replace_panel(workshop, "k1").json()["raised"])
    close_task(Task.objects.get(pk=purge))
    second = report(workshop, "line-opened", "k2", at=at(hours=5).isoformat()).json()
    assert [task["title"] for task in second["raised"]] == ["Panel purge"]
    assert [task["id"] for task in second["joined"]] == [test]
    assert send(client(workshop, Role.TECHNICIAN), f"tasks/{test}/start/").status_code == 409


def test_the_same_request_again_gives_the_same_answer_and_doubles_nothing(workshop: Workshop) -> None:
    spare = workshop.spare("panel-left").pk
    place = {"position": "panel-left", "component_on": spare}
    first = report(workshop, "panel-replaced", "k1", **place)
    again = report(workshop, "panel-replaced", "k1", **place)
    assert (again.status_code, again.json(), again["Idempotent-Replay"]) == (201, first.json(), "true")
    body = {"aircraft": workshop.aircraft.registration, "kind": "panel-replaced", "at": at().isoformat()}
    other = send(client(workshop, Role.CONTROLLER), "events/", {**body, **place, "key": "k1"})
    assert (other.status_code, other.json()["repeated"]) == (200, True)
    assert other.json()["raised"] == first.json()["raised"]
    assert (Event.objects.count(), Task.objects.count()) == (1, 2)


def test_a_report_without_a_key_is_told_to_send_one(workshop: Workshop) -> None:
    answer = report(workshop, "line-opened", "")
    assert answer.status_code == 422
    assert answer.json()["errors"][0]["pointer"] == "#/key"


def test_a_new_component_is_registered_by_the_report(workshop: Workshop) -> None:
    new = {"part_number": "30-110-9", "serial_number": "NEW-1"}
    body = report(workshop, "panel-replaced", "k1", position="panel-left", new_component=new).json()
    fitted = Installation.objects.get(position__code="panel-left", removed_at=None)
    assert (fitted.component.serial_number, body["event"]["component_on"]) == ("NEW-1", fitted.component_id)
    taken = report(workshop, "panel-replaced", "k2", position="panel-right", new_component=new)
    assert taken.status_code == 409
    assert taken.json()["errors"][0]["pointer"] == "#/new_component/serial_number"


def test_people_do_not_report_what_only_a_signed_test_reports(workshop: Workshop) -> None:
    assert report(workshop, "flow-test-failed", "k1").json()["errors"][0]["pointer"] == "#/kind"


def test_the_status_says_why_and_clears_with_the_work(workshop: Workshop) -> None:
    api = client(workshop, Role.AUDITOR)
    address = f"/api/v1/aircraft/{workshop.aircraft.registration}/status/"
    assert api.get(address).json() == {
        "state": "free_to_fly",
        "words": "free to fly",
        "reasons": [],
        "worsens_at": None,
    }
    tasks = [Task.objects.get(pk=task["id"]) for task in replace_panel(workshop, "k1").json()["raised"]]
    body = api.get(address).json()
    assert (body["state"], [reason["task"] for reason in body["reasons"]]) == (
        "not_releasable",
        [task.pk for task in tasks],
    )
    board = api.get("/api/v1/board/?status=not_releasable").json()
    assert (board["total"], board["counts"]["not_releasable"]) == (1, 1)
    assert [line["stops"] for line in api.get("/api/v1/board/owed/").json()] == ["no flight", "no flight"]
    for task in tasks:
        close_task(task)
    assert api.get(address).json()["state"] == "free_to_fly"


def test_a_task_is_given_with_its_entity_tag(workshop: Workshop) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    api, person = client(workshop, Role.CONTROLLER), workshop.house.person(Role.TECHNICIAN)
    address, body = f"/api/v1/tasks/{task.pk}/", {"assigned_to": person.pk}
    tag = api.get(address)["ETag"]
    assert api.patch(address, body).status_code == 428
    assert api.patch(address, body, headers={"If-Match": '"task-0-0"'}).status_code == 412
    given = api.patch(address, body, headers={"If-Match": tag})
    assert (given.status_code, given.json()["assigned_to"]["id"]) == (200, person.pk)
    assert api.patch(address, body, headers={"If-Match": tag}).status_code == 412
    mine = api_of(person).get("/api/v1/tasks/?whose=mine").json()["results"]
    assert [each["id"] for each in mine] == [task.pk]


def test_tasks_are_raised_and_withdrawn_by_the_controller(workshop: Workshop) -> None:
    api = client(workshop, Role.CONTROLLER)
    body = {"aircraft": workshop.aircraft.registration, "procedure": "panel-purge", "why": "asked for"}
    raised = send(api, "tasks/", body, "k1")
    assert (raised.status_code, raised.json()["by_when"]) == (201, "no time set")
    assert send(api, "tasks/", body).status_code == 200
    gone = send(api, f"tasks/{raised.json()['id']}/withdraw/", {"reason": "not needed"})
    assert (gone.json()["state"], gone.json()["withdrawn_reason"]) == ("withdrawn", "not needed")


RULE = {
    "code": "after-strike",
    "event_kind": "propeller-strike",
    "title": "After a strike",
    "content": PURGE_THEN_TEST,
    "source": "Maintenance manual 05-50",
}


def test_a_rule_is_tried_written_rewritten_and_switched(workshop: Workshop) -> None:
    api = client(workshop, Role.CONTROLLER)
    trial = send(api, "rules/dry-run/", {"event_kind": "propeller-strike", "content": PURGE_THEN_TEST})
    assert trial.json() == {
        "events_seen": 0,
        "events_matched": 0,
        "demands_by_procedure": {},
        "lines": [],
    }
    written = send(api, "rules/", RULE)
    assert (written.status_code, written["ETag"]) == (201, '"rule-after-strike-1-on"')
    change = {name: value for name, value in RULE.items() if name != "code"} | {"title": "Other words"}
    address = "/api/v1/rules/after-strike/"
    assert api.put(address, change).status_code == 428
    again = api.put(address, change, headers={"If-Match": written["ETag"]})
    assert (again.json()["version"], again["ETag"]) == (2, '"rule-after-strike-2-on"')
    assert send(api, "rules/after-strike/disable/").json()["is_enabled"] is False
    assert send(api, "rules/after-strike/enable/").json()["is_enabled"] is True
    assert [row["version"] for row in api.get(f"{address}versions/").json()] == [2, 1]


DRAFT = {
    "code": "windshield-spray-test",
    "title": "Windshield spray test",
    "content": CONTENT,
    "approved_reference": "Maintenance manual 30-40",
    "approved_revision": "7",
    "ata": "30-40",
    "consequence": "icing",
    "minutes": 45,
}


def test_a_procedure_is_drafted_published_and_withdrawn(workshop: Workshop) -> None:
    api = client(workshop, Role.CONTROLLER)
    made = send(api, "procedures/", DRAFT)
    assert (made.status_code, made.json()["has_draft"], made.json()["in_force"]) == (201, True, None)
    address = "/api/v1/procedures/windshield-spray-test/"
    change = {name: value for name, value in DRAFT.items() if name != "code"} | {"minutes": 50}
    assert api.put(f"{address}draft/", change).status_code == 428
    changed = api.put(f"{address}draft/", change, headers={"If-Match": made["ETag"]})
    assert changed.json()["shown"]["minutes"] == 50
    assert api.put(f"{address}draft/", change, headers={"If-Match": made["ETag"]}).status_code == 412
    assert send(api, "procedures/windshield-spray-test/publish/").json()["in_force"] == 1
    assert api.get(f"{address}versions/1/").json()["state"] == "current"
    gone = send(api, "procedures/windshield-spray-test/withdraw/", {"reason": "not in the manual"})
    assert gone.json()["withdrawn_on"] is not None


def test_a_wrong_procedure_names_each_field_by_its_pointer(workshop: Workshop) -> None:
    content = {**CONTENT, "steps": [{"key": "a", "kind": "timed_run", "title": ""}]}
    answer = send(client(workshop, Role.CONTROLLER), "procedures/", {**DRAFT, "content": content})
    pointers = {error["pointer"] for error in answer.json()["errors"]}
    assert (answer.status_code, pointers) == (
        422,
        {"#/content/steps/0/title", "#/content/steps/0/seconds"},
    )


def test_a_kind_of_event_is_added_and_retired(workshop: Workshop) -> None:
    api = client(workshop, Role.DIRECTOR)
    assert send(api, "event-kinds/", {"code": "bird-strike", "name": "Bird strike"}).status_code == 201
    assert send(api, "event-kinds/bird-strike/retire/").json()["retired_on"] is not None
    assert send(api, "event-kinds/panel-replaced/retire/").status_code == 409


EVERYBODY = set(Role)
PROGRAMME = {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR}
PLANNERS = {Role.CONTROLLER, Role.DIRECTOR}
WORKERS = {Role.TECHNICIAN, Role.INSPECTOR}
DOORS: dict[str, tuple[str, Any, set[Role]]] = {
    "board/": ("get", None, EVERYBODY),
    "board/owed/": ("get", None, EVERYBODY),
    "aircraft/{registration}/status/": ("get", None, EVERYBODY),
    "events/?": ("get", None, EVERYBODY),
    "event-kinds/?": ("get", None, EVERYBODY),
    "rules/?": ("get", None, EVERYBODY),
    "rules/rule-line-opened/": ("get", None, EVERYBODY),
    "rules/rule-line-opened/versions/": ("get", None, EVERYBODY),
    "rules/dry-run/": ("post", {}, EVERYBODY),
    "tasks/?": ("get", None, EVERYBODY),
    "tasks/{task}/": ("get", None, EVERYBODY),
    "procedures/?": ("get", None, EVERYBODY),
    "procedures/panel-purge/": ("get", None, EVERYBODY),
    "procedures/panel-purge/versions/1/": ("get", None, EVERYBODY),
    "events/": (
        "post",
        {"aircraft": "{registration}", "kind": "lightning-strike", "at": at().isoformat(), "key": "k"},
        WORKERS | PLANNERS,
    ),
    "event-kinds/": ("post", {"code": "new", "name": "New"}, PROGRAMME),
    "event-kinds/long-storage/retire/": ("post", None, PROGRAMME),
    "rules/": ("post", RULE, PROGRAMME),
    "rules/rule-line-opened/ ": ("put", {k: v for k, v in RULE.items() if k != "code"}, PROGRAMME),
    "rules/rule-line-opened/disable/": ("post", None, PROGRAMME),
    "rules/rule-line-opened/enable/": ("post", None, PROGRAMME),
    "tasks/": (
        "post",
        {"aircraft": "{registration}", "procedure": "panel-purge", "why": "because"},
        PLANNERS,
    ),
    "tasks/{task}/ ": ("patch", {"assigned_to": None}, PLANNERS),
    "tasks/{task}/start/": ("post", None, WORKERS),
    "tasks/{task}/withdraw/": ("post", {"reason": "x"}, PLANNERS),
    "procedures/": ("post", DRAFT, PROGRAMME),
    "procedures/panel-purge/draft/": ("put", {k: v for k, v in DRAFT.items() if k != "code"}, PROGRAMME),
    "procedures/panel-purge/draft/ ": ("delete", None, PROGRAMME),
    "procedures/panel-purge/publish/": ("post", None, PROGRAMME),
    "procedures/panel-purge/withdraw/": ("post", {"reason": "x"}, PROGRAMME),
}


def rows() -> list[Any]:
    """Everything these doors could write."""
    return [
        list(Event.objects.values_list("pk")),
        list(EventKind.objects.values_list("code", "retired_on")),
        list(Task.objects.values_list("pk", "state", "version")),
        list(TriggerRule.objects.values_list("code", "version", "is_enabled")),
        list(ProcedureVersion.objects.values_list("procedure__code", "number", "state")),
    ]


def knock(api: APIClient, door: str, task: Task) -> Any:
    verb, body, _ = DOORS[door]
    registration = task.aircraft.registration
    address = door.strip().format(registration=registration, task=task.pk)
    if isinstance(body, dict) and "aircraft" in body:
        body = {**body, "aircraft": registration}
    headers = {"If-Match": "*"} if verb in ("put", "patch", "delete") else {}
    return getattr(api, verb)(f"/api/v1/{address}", body, format="json", headers=headers)


@pytest.mark.parametrize("role", [*Role, None])
def test_every_door_is_for_its_roles_and_nothing_is_written_when_refused(
    workshop: Workshop, role: Role | None
) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    api = api_of(workshop.house.person(role) if role else None)
    for door, (_, _, allowed) in DOORS.items():
        before = rows()
        status = knock(api, door, task).status_code
        if role is None:
            assert (door, status, rows()) == (door, 401, before)
        elif role in allowed:
            assert (door, status) not in [(door, code) for code in (401, 403, 404, 405, 500)]
        else:
            assert (door, status, rows()) == (door, 403, before)


def test_a_stranger_finds_nothing(workshop: Workshop) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    other = api_of(make_house().person(Role.DIRECTOR))
    for door in (
        "aircraft/{registration}/status/",
        "events/",
        "rules/rule-line-opened/",
        "tasks/{task}/",
        "tasks/{task}/withdraw/",
        "procedures/panel-purge/",
        "procedures/panel-purge/publish/",
    ):
        before = rows()
        assert (door, knock(other, door, task).status_code, rows()) == (door, 404, before)


def test_lists_come_in_pages(workshop: Workshop) -> None:
    for _ in range(3):
        TaskMaker(aircraft=workshop.aircraft)
    api = client(workshop, Role.AUDITOR)
    first = api.get("/api/v1/tasks/?limit=2").json()
    second = api.get(first["next"]).json()
    assert (len(first["results"]), len(second["results"]), second["next"]) == (2, 1, None)


def test_the_schema_of_these_doors_raises_no_warning() -> None:
    GENERATOR_STATS.reset()
    schema = SchemaGenerator().get_schema(request=None, public=True)
    said = [*GENERATOR_STATS._warn_cache, *GENERATOR_STATS._error_cache]
    ours = [line for line in said if "scheduling/api" in line and "authenticator" not in line]
    assert ours == []
    assert "/api/v1/events/" in schema["paths"]
