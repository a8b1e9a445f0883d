"""The API's doors to runs: one run from opening to its record, refusals, and who is kept out."""

from datetime import timedelta
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from fleet.common.actor import Role
from fleet.models import Receipt
from records.models import BenchRun, Signature, SignedRecord
from records.services.runs import abandon_run
from tests.makers import PASSWORD, api_of, at, make_house
from tests.records.makers import PNG, Workshop, flow_answers, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def shop() -> Workshop:
    shop = make_workshop()
    shop.report()
    shop.do_purge(at(0, 1))
    return shop


@pytest.fixture
def api(shop: Workshop) -> APIClient:
    return api_of(shop.house.person(Role.TECHNICIAN))


def opened(shop: Workshop, api: APIClient, key: str = "open-1") -> Any:
    body = {
        "task": shop.task("panel-flow-test").pk,
        "key": key,
        "started_at": at(0, 3).isoformat(),
    }
    return api.post("/api/v1/runs/", body)


def work_through(shop: Workshop, api: APIClient) -> int:
    """A flow test worked over the API and finished; the number of its run."""
    run_id: int = opened(shop, api).json()["id"]
    here = f"/api/v1/runs/{run_id}/"
    for role, tool in (("cylinder", shop.cylinder), ("voltmeter", shop.voltmeter)):
        assert api.post(f"{here}equipment/", {"role": role, "equipment": tool.pk}).status_code == 200
    lot = {"lot": shop.lot.pk, "amount": "22.0", "unit": "L"}
    assert api.post(f"{here}lots/", lot).status_code == 200
    run = BenchRun.objects.get(pk=run_id)
    for number, (step, answer) in enumerate(flow_answers(run, "1500", "1510", "28.1").items()):
        body = {"step": step, "key": f"a{number}", "answer": answer, "captured_at": at(0, 3, 5).isoformat()}
        assert api.post(f"{here}answers/", body).status_code == 201, step
    picture = SimpleUploadedFile("p.png", PNG, "image/png")
    upload = {"step": "picture", "key": "p1", "taken_at": at(0, 3, 6).isoformat(), "file": picture}
    assert api.post(f"{here}photos/", upload, format="multipart").status_code == 201
    body = {
        "step": "picture",
        "key": "a9",
        "answer": {"photo_key": "p1"},
        "captured_at": at(0, 3, 6).isoformat(),
    }
    assert api.post(f"{here}answers/", body).status_code == 201
    assert api.post(f"{here}finish/", {"finished_at": at(0, 4).isoformat()}).status_code == 200
    return run_id


def test_a_run_goes_from_opening_to_its_record(shop: Workshop, api: APIClient) -> None:
    run_id = work_through(shop, api)
    read = api.get(f"/api/v1/runs/{run_id}/")
    assert (read.json()["verdict"], read.json()["finished_at"]) == ("pass", "2025-03-03T16:00:00Z")
    content = api.get(f"/api/v1/runs/{run_id}/content/").json()
    body = {"meaning": "performed", "content_digest": content["digest"], "password": PASSWORD}
    first = api.post(f"/api/v1/runs/{run_id}/sign/", body).json()
    assert (first["is_sealed"], first["still_needed"]) == (False, ["inspected"])
    inspector = api_of(shop.house.person(Role.INSPECTOR))
    second = inspector.post(f"/api/v1/runs/{run_id}/sign/", body | {"meaning": "inspected"}).json()
    number = f"{shop.aircraft.registration}-000002"
    assert (second["is_sealed"], second["record"], second["still_needed"]) == (True, number, [])
    assert shop.task("panel-flow-test").state == "closed"


def test_an_inspector_countersigns_on_the_technicians_phone(shop: Workshop, api: APIClient) -> None:
    run_id = work_through(shop, api)
    digest = api.get(f"/api/v1/runs/{run_id}/content/").json()["digest"]
    body = {"meaning": "performed", "content_digest": digest, "password": PASSWORD}
    api.post(f"/api/v1/runs/{run_id}/sign/", body)
    body |= {"meaning": "inspected", "username": shop.house.person(Role.INSPECTOR).username}
    answer = api.post(f"/api/v1/runs/{run_id}/sign/", body)
    assert answer.json()["is_sealed"] is True
    names = set(Signature.objects.filter(run=run_id).values_list("user__username", flat=True))
    assert len(names) == 2


def test_a_wrong_password_signs_nothing_and_stays_counted(shop: Workshop, api: APIClient) -> None:
    run_id = work_through(shop, api)
    digest = api.get(f"/api/v1/runs/{run_id}/content/").json()["digest"]
    body = {"meaning": "performed", "content_digest": digest, "password": "wrong"}
    answer = api.post(f"/api/v1/runs/{run_id}/sign/", body, headers={"Idempotency-Key": "s1"})
    assert (answer.status_code, answer.json()["code"]) == (403, "wrong_password")
    assert answer["Content-Type"] == "application/problem+json"
    assert Signature.objects.filter(run=run_id).count() == 0
    assert AccessAttempt.objects.get().failures_since_start == 1
    assert Receipt.objects.filter(key="s1").count() == 0


def test_signing_twice_with_one_key_signs_once_and_keeps_no_password(shop: Workshop, api: APIClient) -> None:
    run_id = work_through(shop, api)
    digest = api.get(f"/api/v1/runs/{run_id}/content/").json()["digest"]
    body = {"meaning": "performed", "content_digest": digest, "password": PASSWORD}
    key = {"Idempotency-Key": "s2"}
    first = api.post(f"/api/v1/runs/{run_id}/sign/", body, headers=key)
    again = api.post(f"/api/v1/runs/{run_id}/sign/", body, headers=key)
    assert (again.status_code, again.json(), again["Idempotent-Replay"]) == (200, first.json(), "true")
    assert Signature.objects.filter(run=run_id).count() == 1
    kept = Receipt.objects.get(key="s2")
    other = api.post(f"/api/v1/runs/{run_id}/sign/", body | {"password": "x"}, headers=key)
    assert (other.status_code, PASSWORD in str(kept.body)) == (403, False)


def test_opening_answers_201_then_200(shop: Workshop, api: APIClient) -> None:
    first, again = opened(shop, api), opened(shop, api)
    assert (first.status_code, again.status_code, first.json()["id"]) == (201, 200, again.json()["id"])
    assert first["ETag"] == f'"run-{first.json()["id"]}-1"'


def test_a_run_read_again_unchanged_answers_304(shop: Workshop, api: APIClient) -> None:
    run_id = opened(shop, api).json()["id"]
    tag = api.get(f"/api/v1/runs/{run_id}/")["ETag"]
    assert api.get(f"/api/v1/runs/{run_id}/", headers={"If-None-Match": tag}).status_code == 304


def test_a_command_on_an_old_copy_is_refused_where_it_names_the_copy(shop: Workshop, api: APIClient) -> None:
    run_id = opened(shop, api).json()["id"]
    tag = api.get(f"/api/v1/runs/{run_id}/")["ETag"]
    assert api.post(f"/api/v1/runs/{run_id}/pause/", headers={"If-Match": tag}).status_code == 200
    stale = api.post(f"/api/v1/runs/{run_id}/resume/", headers={"If-Match": tag})
    assert (stale.status_code, BenchRun.objects.get(pk=run_id).state) == (412, "paused")


def test_a_bad_answer_names_its_field(shop: Workshop, api: APIClient) -> None:
    run_id = opened(shop, api).json()["id"]
    body = {"step": "clear", "key": "a", "answer": {"acknowledged": 1.5}, "captured_at": at(0, 3).isoformat()}
    answer = api.post(f"/api/v1/runs/{run_id}/answers/", body)
    assert (answer.status_code, answer.json()["code"]) == (422, "bad_answer")
    assert answer.json()["errors"][0]["pointer"] == "#/acknowledged"
    assert BenchRun.objects.get(pk=run_id).answers.count() == 0


def test_the_order_of_work_is_a_conflict_with_its_reason(shop: Workshop, api: APIClient) -> None:
    shop.report("line-opened", at(0, 2))
    answer = opened(shop, api)
    assert (answer.status_code, answer.json()["code"]) == (409, "waits_for_other_work")
    assert answer.json()["errors"][0]["remedy"]


def test_a_photo_is_given_to_the_operators_people_only(shop: Workshop, api: APIClient) -> None:
    run_id = work_through(shop, api)
    address = api.get(f"/api/v1/runs/{run_id}/").json()["photos"][0]["address"]
    mine = api_of(shop.house.person(Role.AUDITOR)).get(address)
    assert (mine.status_code, mine["Content-Type"], b"".join(mine.streaming_content)) == (
        200,
        "image/png",
        PNG,
    )
    assert mine["X-Content-Type-Options"] == "nosniff"
    assert api_of(make_house().person(Role.DIRECTOR)).get(address).status_code == 404
    assert api_of().get(address).status_code == 401


COMMANDS = [
    (
        "answers/",
        {"step": "clear", "key": "z", "answer": {"acknowledged": True}, "captured_at": "2025-03-03T15:05Z"},
    ),
    ("equipment/", {"role": "cylinder", "equipment": 1}),
    ("lots/", {"lot": 1, "amount": "21", "unit": "L"}),
    ("pause/", {}),
    ("resume/", {}),
    ("hand-over/", {"to": 1, "note": "x"}),
    ("abandon/", {"reason": "x"}),
    ("finish/", {}),
]


@pytest.mark.parametrize(("address", "body"), COMMANDS)
@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR])
def test_commands_are_refused_to_those_who_do_not_work_on_aircraft(
    shop: Workshop, api: APIClient, role: Role, address: str, body: dict[str, Any]
) -> None:
    run_id = opened(shop, api).json()["id"]
    answer = api_of(shop.house.person(role)).post(f"/api/v1/runs/{run_id}/{address}", body)
    run = BenchRun.objects.get(pk=run_id)
    assert (answer.status_code, run.state, run.version, run.answers.count()) == (403, "open", 1, 0)


@pytest.mark.parametrize(("address", "body"), COMMANDS)
def test_commands_on_a_strangers_run_are_not_found(
    shop: Workshop, api: APIClient, address: str, body: dict[str, Any]
) -> None:
    run_id = opened(shop, api).json()["id"]
    stranger = api_of(make_house().person(Role.TECHNICIAN))
    assert stranger.post(f"/api/v1/runs/{run_id}/{address}", body).status_code == 404
    assert BenchRun.objects.get(pk=run_id).version == 1


@pytest.mark.parametrize("address", ["", "1/", "1/content/", "1/photos/1/"])
def test_nobody_reads_runs_without_signing_in(address: str) -> None:
    assert api_of().get(f"/api/v1/runs/{address}").status_code == 401


def more_runs(shop: Workshop, number: int) -> None:
    """Purges opened and given up, one after the other."""
    shop.report("line-opened", at(1))
    for each in range(number):
        run = shop.open("panel-purge", at(1) + timedelta(minutes=each + 1))
        abandon_run(actor=shop.technician, run_id=run.pk, reason="for the test")


def queries(api: APIClient, address: str) -> int:
    with CaptureQueriesContext(
        connection,
    ) as caught:
        assert api.get(address).status_code == 200
    return len(caught)


def test_ten_runs_and_twenty_cost_the_same_queries(shop: Workshop, api: APIClient) -> None:
    more_runs(shop, 10)
    ten = queries(api, "/api/v1/runs/")
    more_runs(shop, 10)
    assert len(api.get("/api/v1/runs/").json()["results"]) == 21
    assert queries(api, "/api/v1/runs/") == ten


def test_runs_are_found_by_task_aircraft_and_state(shop: Workshop, api: APIClient) -> None:
    opened(shop, api)
    task = shop.task("panel-flow-test").pk
    found = [
        len(api.get(f"/api/v1/runs/?{query}").json()["results"])
        for query in (
            f"task={task}",
            f"aircraft={shop.aircraft.registration.lower()}",
            "state=signed",
            "state=open",
        )
    ]
    assert found == [1, 2, 1, 1]
    assert SignedRecord.objects.count() == 1
