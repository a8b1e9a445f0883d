"""The outbox of a phone: what was entered without reception is carried out once, each command with its own answer."""

import base64
from datetime import timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from fleet.common.actor import Role
from fleet.common.clock import now
from records.models import BenchRun, StepAnswer
from records.services import sync_commands
from scheduling.models import Event, ProcedureVersion
from tests.makers import api_of, at, make_house
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


def command(identity: str, kind: str, minutes: int = 5, **body: Any) -> dict[str, Any]:
    return {"id": identity, "kind": kind, "captured_at": at(0, 3, minutes).isoformat(), "body": body}


def send(api: APIClient, *commands: object, sent_at: Any = None, device: str = "phone-1") -> dict[str, Any]:
    body = {"device": device, "sent_at": (sent_at or now()).isoformat(), "commands": list(commands)}
    answer = api.post("/api/v1/sync/", body)
    assert answer.status_code == 200, answer.json()
    found: dict[str, Any] = answer.json()
    return found


def outcomes(answer: dict[str, Any]) -> list[str]:
    return [result["outcome"] for result in answer["results"]]


def whole_test(shop: Workshop) -> list[dict[str, Any]]:
    """A flow test from opening to its end, as a phone without reception keeps it."""
    run = BenchRun(started_at=at(0, 3))
    opening = {"opening": "c-open"}
    commands = [
        command("c-open", "open_run", 0, task=shop.task("panel-flow-test").pk, procedure_version=1),
        command("c-eq1", "use_equipment", 1, role="cylinder", equipment=shop.cylinder.pk, **opening),
        command("c-eq2", "use_equipment", 1, role="voltmeter", equipment=shop.voltmeter.pk, **opening),
        command("c-lot", "use_lot", 1, lot=shop.lot.pk, amount="22.0", unit="L", **opening),
    ]
    commands += [
        command(f"c-{step}", "answer", 5, step=step, answer=answer, **opening)
        for step, answer in flow_answers(run, "1500", "1510", "28.1").items()
    ]
    picture = base64.b64encode(PNG).decode()
    commands += [
        command("c-photo", "photo", 6, step="picture", content=picture, **opening),
        command("c-pic", "answer", 6, step="picture", answer={"photo_key": "c-photo"}, **opening),
        command("c-end", "finish", 30, **opening),
    ]
    return commands


def test_a_whole_test_without_reception_arrives_in_order(shop: Workshop, api: APIClient) -> None:
    answer = send(api, *whole_test(shop))
    assert outcomes(answer) == ["applied"] * 13
    run = BenchRun.objects.get(key="c-open")
    assert (run.verdict, run.started_at, run.finished_at) == ("pass", at(0, 3), at(0, 3, 30))
    assert answer["results"][-1]["words"] == "PASS: everything is inside its limits"
    assert answer["results"][-1]["body"]["run"] == run.pk


def test_sending_everything_again_repeats_every_answer_and_changes_nothing(
    shop: Workshop, api: APIClient
) -> None:
    commands = whole_test(shop)
    first = send(api, *commands)
    again = send(api, *commands)
    assert outcomes(again) == ["repeated"] * 13
    assert [r["words"] for r in again["results"]] == [r["words"] for r in first["results"]]
    assert (BenchRun.objects.count(), StepAnswer.objects.count()) == (2, 9)


@pytest.mark.parametrize("upto", [1, 4, 7, 12])
def test_any_part_sent_twice_ends_the_same(shop: Workshop, api: APIClient, upto: int) -> None:
    commands = whole_test(shop)
    send(api, *commands[:upto])
    answer = send(api, *commands)
    assert outcomes(answer) == ["repeated"] * upto + ["applied"] * (13 - upto)
    assert BenchRun.objects.get(key="c-open").verdict == "pass"


def test_a_bad_command_never_takes_the_others_with_it(shop: Workshop, api: APIClient) -> None:
    good = whole_test(shop)
    answer = send(
        api,
        good[0],
        {"id": "x1", "kind": "fly", "captured_at": at().isoformat(), "body": {}},
        "nonsense",
        {"id": "x2", "kind": "answer", "captured_at": "yesterday", "body": {}},
        command("x3", "answer", step="power", answer={"done": True}, opening="c-open"),
        command("x4", "answer", step="clear", answer={"acknowledged": 1.0}, opening="c-open"),
        command("x5", "answer", step="clear", answer={"acknowledged": True}, opening="nowhere"),
        good[4],
    )
    assert outcomes(answer) == [
        "applied",
        "refused",
        "refused",
        "refused",
        "conflict",
        "refused",
        "refused",
        "applied",
    ]
    codes = [result["code"] for result in answer["results"]]
    assert codes == [
        "",
        "bad_command",
        "bad_command",
        "bad_command",
        "step_order",
        "bad_answer",
        "run_not_found",
        "",
    ]
    assert all(result["words"] for result in answer["results"])
    assert answer["results"][3]["reasons"][0]["field"] == "captured_at"


def test_a_bug_met_by_one_command_is_answered_and_the_others_are_carried_out(
    shop: Workshop, api: APIClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> dict[str, Any]:
        raise ZeroDivisionError

    monkeypatch.setitem(sync_commands.COMMANDS, "pause", broken)
    good = whole_test(shop)
    answer = send(api, good[0], command("p", "pause", opening="c-open"), good[1])
    assert outcomes(answer) == ["applied", "refused", "applied"]
    assert answer["results"][1]["code"] == "broke"


def test_a_refused_command_may_be_mended_and_sent_again_under_its_id(shop: Workshop, api: APIClient) -> None:
    good = whole_test(shop)
    early = command("c-late", "answer", step="power", answer={"done": True}, opening="c-open")
    assert outcomes(send(api, good[0], early)) == ["applied", "conflict"]
    clear = command("c-clear", "answer", step="clear", answer={"acknowledged": True}, opening="c-open")
    assert outcomes(send(api, clear, early)) == ["applied", "applied"]


def test_one_id_used_for_two_commands_is_refused(shop: Workshop, api: APIClient) -> None:
    good = whole_test(shop)
    send(api, good[0])
    other = command("c-open", "open_run", 0, task=99999)
    answer = send(api, other)
    assert (outcomes(answer), answer["results"][0]["code"]) == (["refused"], "key_reused")


def test_two_phones_on_one_task_meet_in_words(shop: Workshop, api: APIClient) -> None:
    send(api, whole_test(shop)[0])
    task = shop.task("panel-flow-test").pk
    second = api_of(shop.house.person(Role.INSPECTOR))
    answer = send(second, command("d-open", "open_run", 2, task=task), device="phone-2")
    assert (outcomes(answer), answer["results"][0]["code"]) == (["conflict"], "run_in_hand")
    assert "is in hand already" in answer["results"][0]["words"]


def test_a_clock_an_hour_ahead_is_put_right(shop: Workshop, api: APIClient) -> None:
    hour = timedelta(hours=1)
    opening = command("c-open", "open_run", 60, task=shop.task("panel-flow-test").pk)
    clear = command("c-clear", "answer", 65, step="clear", answer={"acknowledged": True}, opening="c-open")
    answer = send(api, opening, clear, sent_at=now() + hour)
    assert outcomes(answer) == ["applied", "applied"]
    assert abs(answer["clock_seconds"] + 3600) < 5
    run = BenchRun.objects.get(key="c-open")
    assert abs(run.started_at - at(0, 3)) < timedelta(seconds=5)


def test_a_clock_off_by_a_minute_is_left_alone(shop: Workshop, api: APIClient) -> None:
    send(api, whole_test(shop)[0], sent_at=now() - timedelta(seconds=60))
    assert BenchRun.objects.get(key="c-open").started_at == at(0, 3)


def test_a_new_text_of_the_procedure_meanwhile_is_a_conflict(shop: Workshop, api: APIClient) -> None:
    old = ProcedureVersion.objects.get(procedure__code="panel-flow-test")
    ProcedureVersion.objects.filter(pk=old.pk).update(state="superseded")
    old.pk, old.number, old.state, old.first_used_at = None, 2, "current", None
    old.save(force_insert=True)
    answer = send(api, whole_test(shop)[0])
    assert (outcomes(answer), answer["results"][0]["code"]) == (["conflict"], "procedure_changed")
    assert BenchRun.objects.filter(key="c-open").count() == 0
    assert shop.task("panel-flow-test").state == "raised"


def test_pausing_handing_over_and_giving_up_travel_too(shop: Workshop, api: APIClient) -> None:
    send(api, whole_test(shop)[0])
    to = shop.house.person(Role.INSPECTOR)
    answer = send(
        api,
        command("p1", "pause", opening="c-open"),
        command("p2", "resume", opening="c-open"),
        command("p3", "hand_over", opening="c-open", to=to.pk, note="voltage next"),
        command("p4", "abandon", opening="c-open", reason="rain"),
    )
    assert outcomes(answer) == ["applied"] * 4
    assert BenchRun.objects.get(key="c-open").abandoned_reason == "rain"


def test_an_event_is_reported_from_the_same_outbox(shop: Workshop, api: APIClient) -> None:
    event = command(
        "e1", "report_event", aircraft=shop.aircraft.registration, event_kind="line-opened", note="left wing"
    )
    answer = send(api, event, event)
    assert outcomes(answer) == ["applied", "repeated"]
    assert Event.objects.filter(kind__code="line-opened").count() == 2
    assert "Panel purge" in answer["results"][0]["words"]


def test_a_replaced_panel_is_registered_and_fitted_from_the_outbox(shop: Workshop, api: APIClient) -> None:
    event = command(
        "e2",
        "report_event",
        aircraft=shop.aircraft.registration,
        event_kind="panel-replaced",
        position="panel-left",
        new_component={"part_number": "30-110-1", "serial_number": "N77"},
    )
    assert outcomes(send(api, event)) == ["applied"]
    assert Event.objects.get(kind__code="panel-replaced").component_on is not None


@pytest.mark.parametrize("role", [Role.CONTROLLER, Role.AUDITOR, Role.DIRECTOR])
def test_the_outbox_gives_nobody_more_rights(shop: Workshop, role: Role) -> None:
    answer = send(api_of(shop.house.person(role)), whole_test(shop)[0])
    assert (outcomes(answer), answer["results"][0]["code"]) == (["refused"], "not_allowed")
    assert BenchRun.objects.count() == 1


def test_a_strangers_task_is_not_found_through_the_outbox(shop: Workshop) -> None:
    answer = send(api_of(make_house().person(Role.TECHNICIAN)), whole_test(shop)[0])
    assert (outcomes(answer), answer["results"][0]["code"]) == (["refused"], "task_not_found")


def test_a_broken_envelope_names_its_field(api: APIClient) -> None:
    answer = api.post("/api/v1/sync/", {"device": "phone-1", "commands": "none"})
    assert answer.status_code == 422
    assert {error["pointer"] for error in answer.json()["errors"]} == {"#/sent_at", "#/commands"}


def test_nobody_syncs_without_signing_in() -> None:
    assert api_of().post("/api/v1/sync/", {}).status_code == 401
