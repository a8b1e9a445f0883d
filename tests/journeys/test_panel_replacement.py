"""The whole road through the API: a panel is replaced, the system purged and tested, the record sealed."""

from __future__ import annotations

import pytest

from tests.journeys.crew import Crew, moment

PANEL = {"position": "wing-left-mid", "new_component": {"part_number": "PP-300-2", "serial_number": "NEW-77"}}


def test_a_panel_replacement_goes_from_event_to_cleared_status(crew: Crew) -> None:
    assert crew.status("QX-SKB") == "free_to_fly"
    reported = crew.report("tove", "QX-SKB", "panel-replaced", **PANEL)
    assert [task["title"] for task in reported["raised"]] == ["Panel purge", "Panel flow test"]
    assert crew.status("QX-SKB") == "not_releasable"

    tasks = crew.tasks("QX-SKB")
    refused = crew.open_run("tove", tasks["panel-flow-test"]["id"])
    assert refused.status_code == 409
    assert refused["Content-Type"] == "application/problem+json"
    assert "Panel purge must be closed first" in refused.json()["detail"]

    purge = crew.work_and_sign("tove", tasks["panel-purge"]["id"])
    assert purge["record"] == "QX-SKB-000001"
    assert crew.status("QX-SKB") == "not_releasable"

    run = crew.work("tove", tasks["panel-flow-test"]["id"])
    assert run["verdict"] == "pass"
    assert crew.status("QX-SKB") == "not_releasable"
    first = crew.sign("tove", run["id"])
    assert first.json()["still_needed"] == ["inspected"]
    own = crew.sign("tove", run["id"], "inspected")
    assert own.status_code == 403
    assert crew.status("QX-SKB") == "not_releasable"
    sealed = crew.sign("aldis", run["id"], "inspected")
    assert sealed.json()["record"] == "QX-SKB-000002"
    assert crew.status("QX-SKB") == "free_to_fly"

    auditor = crew.client("oswin")
    record = auditor.get("/api/v1/records/QX-SKB-000002/").json()
    assert record["verdict"] == "pass"
    assert auditor.get("/api/v1/records/QX-SKB-000002/pdf/").content.startswith(b"%PDF-")
    assert auditor.get("/api/v1/records/QX-SKB-000002/verification/").json()["is_whole"] is True


def test_two_events_before_the_purge_raise_one_purge_and_one_test_that_name_both(crew: Crew) -> None:
    crew.report("tove", "QX-SKB", "panel-replaced", **PANEL)
    second = crew.report("milo", "QX-SKB", "line-opened", note="elbow behind the left inboard panel")
    assert (second["raised"], len(second["joined"])) == ([], 2)
    tasks = crew.tasks("QX-SKB")
    assert sorted(tasks) == ["panel-flow-test", "panel-purge"]
    why = crew.client("edda").get(f"/api/v1/tasks/{tasks['panel-purge']['id']}/").json()["why"]
    assert len(why) == 2
    assert "panel replaced" in why[0]["words"].lower()
    assert "line opened" in why[1]["words"].lower()


def test_an_event_after_the_signed_purge_raises_it_again_and_blocks_the_test(crew: Crew) -> None:
    crew.report("tove", "QX-SKB", "panel-replaced", **PANEL)
    tasks = crew.tasks("QX-SKB")
    crew.work_and_sign("tove", tasks["panel-purge"]["id"])
    again = crew.report("tove", "QX-SKB", "line-opened")
    assert [task["title"] for task in again["raised"]] == ["Panel purge"]
    assert [task["title"] for task in again["joined"]] == ["Panel flow test"]
    assert crew.open_run("tove", tasks["panel-flow-test"]["id"]).status_code == 409
    crew.work_and_sign("tove", crew.tasks("QX-SKB")["panel-purge"]["id"])
    crew.work_and_sign("tove", tasks["panel-flow-test"]["id"])
    assert crew.status("QX-SKB") == "free_to_fly"


def test_a_tank_refit_is_checked_purged_and_tested_in_that_order(crew: Crew) -> None:
    reported = crew.report("runa", "QX-SKC", "tank-refitted", position="fluid-tank")
    assert [task["title"] for task in reported["raised"]] == [
        "Tank refit check",
        "Panel purge",
        "Panel flow test",
    ]
    tasks = crew.tasks("QX-SKC")
    for early in ("panel-purge", "panel-flow-test"):
        assert crew.open_run("runa", tasks[early]["id"]).status_code == 409
    for procedure in ("tank-refit-check", "panel-purge", "panel-flow-test"):
        assert crew.status("QX-SKC") == "not_releasable"
        crew.work_and_sign("runa", tasks[procedure]["id"])
    assert crew.status("QX-SKC") == "free_to_fly"
    assert crew.tasks("QX-SKC") == {}


@pytest.mark.parametrize("low_side", ["left", "right"])
def test_a_failed_test_raises_its_follow_up_and_is_sealed_as_it_is(crew: Crew, low_side: str) -> None:
    crew.report("tove", "QX-SKB", "filter-changed", position="fluid-filter",
                new_component={"part_number": "FF-300", "serial_number": "NF-1"})  # fmt: skip
    tasks = crew.tasks("QX-SKB")
    crew.work_and_sign("tove", tasks["panel-purge"]["id"])
    run = crew.work("tove", tasks["panel-flow-test"]["id"], {low_side: "1249"})
    assert run["verdict"] == "fail"
    after = crew.tasks("QX-SKB")
    assert {"low-flow-investigation", "panel-purge", "panel-flow-test"} <= set(after)
    assert after["panel-flow-test"]["id"] == tasks["panel-flow-test"]["id"]

    crew.sign("tove", run["id"])
    sealed = crew.sign("aldis", run["id"], "inspected").json()
    record = crew.client("oswin").get(f"/api/v1/records/{sealed['record']}/").json()
    assert record["verdict"] == "fail"
    assert crew.status("QX-SKB") == "not_releasable"
    assert crew.tasks("QX-SKB")["panel-flow-test"]["state"] == "raised"

    for procedure in ("low-flow-investigation", "panel-purge", "panel-flow-test"):
        crew.work_and_sign("milo", crew.tasks("QX-SKB")[procedure]["id"])
    assert crew.status("QX-SKB") == "free_to_fly"


def test_relief_restricts_instead_of_grounding_while_its_clock_runs(crew: Crew) -> None:
    crew.report("tove", "QX-SKB", "panel-replaced", **PANEL)
    assert crew.status("QX-SKB") == "not_releasable"
    body = {"aircraft": "QX-SKB", "category": "C", "item": "30-10-1", "reference": "MEL revision 4",
            "covers": "icing", "restriction": "no flight into known or forecast icing",
            "recorded_at": moment()}  # fmt: skip
    granted = crew.client("marit").post("/api/v1/reliefs/", body)
    assert granted.status_code == 201, granted.json()
    assert crew.status("QX-SKB") == "restricted_icing"
