"""The scheduling screens: a panel replaced by clicks, tasks given and withdrawn, rules and procedures written."""

import json
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.core.files.uploadedfile import SimpleUploadedFile
from django.http import QueryDict
from django.test import Client

from fleet.common.actor import Role
from fleet.models import Installation
from scheduling.models import Event, EventKind, ProcedureVersion, Task, TriggerRule
from scheduling.screens.procedure_data import content_of, frame_of, rows_of, with_keys
from scheduling.screens.procedure_rows import StepRow
from scheduling.screens.rows import changed, forms_of, rows_from
from scheduling.steps.parse import procedure_from_data
from tests.makers import browser_of
from tests.scheduling.makers import FLOW_TEST, TaskMaker, Workshop, make_workshop

pytestmark = pytest.mark.django_db
PICTURE = b"\x89PNG\r\n\x1a\n" + b"0" * 40


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop(rules=("panel-replaced", "line-opened"))


def browser(workshop: Workshop, role: Role | str) -> Client:
    return browser_of(workshop.house.person(role))


def words_of(page: Any) -> str:
    return " ".join(page.content.decode().split())


def details(workshop: Workshop, kind: str, position: str = "") -> str:
    registration = workshop.aircraft.registration
    place = f"&position={position}" if position else ""
    return f"/events/new/?aircraft={registration}&kind={kind}{place}"


FORM = {"at": "2025-03-03T12:00", "note": "weeping unevenly", "key": "k1"}


def test_a_report_is_made_step_by_step_and_shows_what_it_raised_and_why(workshop: Workshop) -> None:
    page = browser(workshop, Role.TECHNICIAN)
    registration = workshop.aircraft.registration
    assert f"/events/new/?aircraft={registration}" in words_of(page.get("/events/new/"))
    kinds = words_of(page.get(f"/events/new/?aircraft={registration}"))
    assert "Panel replaced" in kinds
    assert "Flow test failed" not in kinds
    places = words_of(page.get(details(workshop, "panel-replaced")))
    assert "panel left" in places
    assert "outlet" not in places
    spare = workshop.spare("panel-left")
    form = words_of(page.get(details(workshop, "panel-replaced", "panel-left")))
    assert "Comes off" in form
    assert spare.serial_number in form
    sent = {**FORM, "component_on": spare.pk, "photo": SimpleUploadedFile("x.png", PICTURE)}
    answer = page.post(details(workshop, "panel-replaced", "panel-left"), sent, follow=True)
    event = Event.objects.get()
    assert answer.redirect_chain == [(f"/events/{event.pk}/", 302)]
    shown = words_of(answer)
    assert "Panel replaced at panel left on 3 Mar 2025: rule rule-panel-replaced" in shown
    assert shown.index("Panel purge") < shown.index("Panel flow test")
    photo = page.get(f"/events/{event.pk}/photo/")
    assert (photo["Content-Type"], b"".join(photo.streaming_content)) == ("image/png", PICTURE)


def test_sending_the_form_twice_reports_once(workshop: Workshop) -> None:
    page = browser(workshop, Role.TECHNICIAN)
    spare = workshop.spare("panel-left").pk
    address = details(workshop, "panel-replaced", "panel-left")
    for _ in range(2):
        answer = page.post(address, {**FORM, "component_on": spare}, follow=True)
    assert "Reported already; nothing was doubled." in words_of(answer)
    assert (Event.objects.count(), Task.objects.count()) == (1, 2)


def test_a_new_part_is_registered_on_the_way_and_asked_for_by_field(workshop: Workshop) -> None:
    page = browser(workshop, Role.TECHNICIAN)
    address = details(workshop, "panel-replaced", "panel-left")
    missing = page.post(address, {**FORM, "component_on": "new"})
    assert "Read it off the part and fill it in." in words_of(missing)
    new = {
        "new_component.part_number": "30-110-9",
        "new_component.serial_number": "NEW-1",
        "new_component.opening_minutes": "1304:30",
    }
    page.post(address, {**FORM, "component_on": "new", **new})
    fitted = Installation.objects.get(position__code="panel-left", removed_at=None).component
    assert (fitted.serial_number, fitted.opening_minutes) == ("NEW-1", 78_270)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"at": "2085-03-03T12:00"}, "lies in the future"),
        ({"at": "2020-03-03T12:00"}, "is not after it was fitted"),
        ({"component_on": ""}, "Nothing was entered. Fill in “What was fitted”."),
        ({"photo": SimpleUploadedFile("x.png", b"no picture at all")}, "is no JPEG or PNG picture"),
    ],
)
def test_a_refused_report_stands_in_the_form_again(
    workshop: Workshop, values: dict[str, Any], words: str
) -> None:
    spare = workshop.spare("panel-left").pk
    answer = browser(workshop, Role.TECHNICIAN).post(
        details(workshop, "panel-replaced", "panel-left"), {**FORM, "component_on": spare, **values}
    )
    assert words in words_of(answer)
    assert "weeping unevenly" in words_of(answer)
    assert (Event.objects.count(), Task.objects.count()) == (0, 0)


def test_local_time_at_the_base_is_meant(workshop: Workshop) -> None:
    workshop.house.base.zone = "Europe/Oslo"
    workshop.house.base.save()
    browser(workshop, Role.TECHNICIAN).post(details(workshop, "line-opened"), FORM)
    assert Event.objects.get().at.isoformat() == "2025-03-03T11:00:00+00:00"


def test_the_board_shows_every_aircraft_with_its_status_and_why(workshop: Workshop) -> None:
    workshop.replace_panel("first")
    shown = words_of(browser(workshop, Role.DIRECTOR).get("/"))
    assert "Not releasable" in shown
    assert "Panel purge is open and no approved relief is running." in shown
    owed = words_of(browser(workshop, Role.DIRECTOR).get("/in-the-way/"))
    assert "2 things on 1 aircraft stop something; 2 of them belong to nobody yet." in owed.replace(
        "\u00a0", " "
    ).replace("\u202f", " ")


def test_ticked_tasks_are_given_and_withdrawn_together(workshop: Workshop) -> None:
    purge, test = workshop.replace_panel("first").raised
    page, person = browser(workshop, Role.CONTROLLER), workshop.house.person(Role.TECHNICIAN)
    page.post("/tasks/give/", {"task": [purge.pk, test.pk], "person": person.pk, "query": "whose=all"})
    assert set(Task.objects.values_list("assigned_to", flat=True)) == {person.pk}
    assert "Panel purge" in words_of(browser_of(person).get("/tasks/"))
    confirm = page.get(f"/tasks/withdraw/?task={purge.pk}&task={test.pk}")
    assert "Panel flow test on" in words_of(confirm)
    address = f"/tasks/withdraw/?task={purge.pk}&task={test.pk}"
    assert "Nothing was entered" in words_of(page.post(address, {"reason": ""}))
    page.post(address, {"reason": "another aircraft was meant"})
    assert set(Task.objects.values_list("state", flat=True)) == {"withdrawn"}


def test_a_technician_takes_a_task_that_nobody_has(workshop: Workshop) -> None:
    task = TaskMaker(aircraft=workshop.aircraft)
    page, person = browser(workshop, Role.TECHNICIAN), workshop.house.person(Role.TECHNICIAN)
    assert "Take it" in words_of(page.get("/tasks/?whose=base"))
    page.post("/tasks/give/", {"task": task.pk, "person": person.pk, "query": "whose=base"})
    task.refresh_from_db()
    assert task.assigned_to == person
    assert "Take it" not in words_of(page.get("/tasks/?whose=base"))


def test_a_task_that_cannot_be_withdrawn_keeps_the_others(workshop: Workshop) -> None:
    good = TaskMaker(aircraft=workshop.aircraft)
    begun = TaskMaker(aircraft=workshop.aircraft, state="in_work")
    page = browser(workshop, Role.CONTROLLER)
    page.post(f"/tasks/withdraw/?task={good.pk}&task={begun.pk}", {"reason": "x"})
    assert set(Task.objects.values_list("state", flat=True)) == {"raised", "in_work"}


RULE = {
    "code": "after-strike",
    "title": "After a strike",
    "event_kind": "propeller-strike",
    "source": "Maintenance manual 05-50",
    "positions": "",
    "raises-rows": "2",
    "raises-0-procedure_code": "panel-purge",
    "raises-0-before": "next_task",
    "raises-1-procedure_code": "panel-flow-test",
    "raises-1-before": "within_days",
    "raises-1-amount": "10",
}


def test_a_rule_is_tried_and_put_in_force_by_form(workshop: Workshop) -> None:
    page = browser(workshop, Role.CONTROLLER)
    tried = words_of(page.post("/rules/new/", {**RULE, "do": "try"}))
    assert "Over the last year this rule would have raised" in tried
    assert not TriggerRule.objects.filter(code="after-strike").exists()
    page.post("/rules/new/", {**RULE, "do": "save"})
    rule = TriggerRule.objects.get(code="after-strike")
    assert [raised["title"] for raised in rule.content["raises"]] == ["Panel purge", "Panel flow test"]
    assert rule.content["raises"][1]["before"] == {"kind": "within_days", "amount": 10}
    shown = words_of(page.get("/rules/after-strike/"))
    assert (
        "first Panel purge, before the task that follows it; then Panel flow test, within 10 days." in shown
    )


def test_a_wrong_rule_names_its_row_and_is_not_kept(workshop: Workshop) -> None:
    page = browser(workshop, Role.CONTROLLER)
    wrong = {**RULE, "raises-1-amount": "soon", "do": "save"}
    answer = page.post("/rules/new/", wrong)
    assert answer.status_code == 422
    assert "Is not a whole number" in words_of(answer) or "is not a whole number" in words_of(answer)
    assert not TriggerRule.objects.filter(code="after-strike").exists()


def test_the_next_version_of_a_rule_is_refused_when_somebody_was_quicker(workshop: Workshop) -> None:
    page = browser(workshop, Role.CONTROLLER)
    page.post("/rules/new/", {**RULE, "do": "save"})
    change = {**RULE, "title": "Other words", "version": "1", "do": "save"}
    assert page.post("/rules/after-strike/edit/", change).status_code == 302
    assert page.post("/rules/after-strike/edit/", {**change, "title": "Late"}).status_code == 409
    assert "Title was “After a strike”, is “Other words”." in words_of(page.get("/rules/after-strike/"))


def test_a_rule_is_switched_off_and_on(workshop: Workshop) -> None:
    page = browser(workshop, Role.CONTROLLER)
    page.post("/rules/rule-line-opened/off/")
    assert not TriggerRule.objects.get(code="rule-line-opened").is_enabled
    page.post("/rules/rule-line-opened/on/")
    assert TriggerRule.objects.get(code="rule-line-opened").is_enabled


def test_kinds_of_event_are_added_and_retired_by_form(workshop: Workshop) -> None:
    page = browser(workshop, Role.DIRECTOR)
    page.post("/event-kinds/", {"code": "bird-strike", "name": "Bird strike", "change": "none"})
    assert EventKind.objects.get(code="bird-strike").retired_on is None
    page.post("/event-kinds/bird-strike/retire/")
    assert EventKind.objects.get(code="bird-strike").retired_on is not None


def post_of(content: dict[str, Any]) -> dict[str, Any]:
    """What a browser sends for a procedure's data."""
    sent: dict[str, Any] = {
        "title": "Panel flow test",
        "approved_reference": "Maintenance manual 30-12",
        "approved_revision": "5",
        "ata": "30-12",
        "consequence": "icing",
        "minutes": "90",
        "people": "2",
        **frame_of(content),
    }
    for name, rows in rows_of(content).items():
        sent[f"{name}-rows"] = str(len(rows))
        for index, row in enumerate(rows):
            sent |= {f"{name}-{index}-{key}": value for key, value in row.items()}
    return sent


def test_a_procedure_is_edited_row_by_row_and_put_in_force(workshop: Workshop) -> None:
    page = browser(workshop, Role.CONTROLLER)
    read = page.get("/procedures/panel-flow-test/edit/").context["read"]
    sent = {**post_of(FLOW_TEST), "read": read}
    grown = page.post("/procedures/panel-flow-test/edit/", {**sent, "do": "steps:after:0"})
    assert [row["title"].value() for row in grown.context["steps"]] == [
        "Run for five minutes",
        "",
        "Collect both sides",
    ]
    assert ProcedureVersion.objects.filter(procedure__code="panel-flow-test").count() == 1
    sent |= {"steps-0-seconds": "240", "change_note": "shorter run"}
    saved = page.post("/procedures/panel-flow-test/edit/", {**sent, "do": "save"}, follow=True)
    assert saved.redirect_chain == [("/procedures/panel-flow-test/versions/2/", 302)]
    assert "Step “Run for five minutes”: seconds was “300”, is “240”." in words_of(saved)
    late = page.post("/procedures/panel-flow-test/edit/", {**sent, "minutes": "10", "do": "save"})
    assert late.status_code == 409
    page.post("/procedures/panel-flow-test/publish/")
    shown = words_of(page.get("/procedures/panel-flow-test/"))
    assert "Run for 240 s" in shown
    assert "shorter run" in shown


def test_a_wrong_step_says_so_beside_its_field_and_on_top(workshop: Workshop) -> None:
    page = browser(workshop, Role.CONTROLLER)
    read = page.get("/procedures/panel-flow-test/edit/").context["read"]
    sent = {**post_of(FLOW_TEST), "read": read, "steps-0-seconds": "-5", "points-0-plus": "much"}
    answer = page.post("/procedures/panel-flow-test/edit/", {**sent, "do": "save"})
    assert answer.status_code == 422
    assert answer.context["steps"][0].errors.keys() == {"seconds"}
    assert answer.context["points"][0].errors.keys() == {"plus"}
    assert "Look at step 1: Seconds: “-5” must be above 0." in words_of(answer)
    assert ProcedureVersion.objects.filter(procedure__code="panel-flow-test").count() == 1


def test_a_procedure_is_written_anew_and_the_fields_are_filled_from_data(workshop: Workshop) -> None:
    page = browser(workshop, Role.ADMINISTRATOR)
    empty = {**post_of({}), "code": "new-test", "data": json.dumps(FLOW_TEST), "do": "data"}
    filled = page.post("/procedures/new/", empty)
    assert [row["title"].value() for row in filled.context["steps"]] == [
        "Run for five minutes",
        "Collect both sides",
    ]
    assert "This is no procedure" in words_of(page.post("/procedures/new/", {**empty, "data": "{"}))
    page.post("/procedures/new/", {**post_of(FLOW_TEST), "code": "new-test", "do": "save"})
    version = ProcedureVersion.objects.get(procedure__code="new-test")
    assert procedure_from_data(version.content) == procedure_from_data(FLOW_TEST)
    page.post("/procedures/new-test/discard/")
    assert not ProcedureVersion.objects.filter(procedure__code="new-test").exists()


def test_a_procedure_that_is_needed_is_not_withdrawn(workshop: Workshop) -> None:
    page = browser(workshop, Role.DIRECTOR)
    assert "It is still needed" in words_of(page.get("/procedures/panel-purge/withdraw/"))
    page.post("/procedures/panel-purge/withdraw/", {"reason": "x"})
    assert ProcedureVersion.objects.get(procedure__code="panel-purge").state == "current"


WRITTEN = sorted((Path(settings.ROOT) / "fixtures").rglob("procedures/*.json"))


@pytest.mark.parametrize("path", WRITTEN, ids=lambda path: path.stem)
def test_the_editor_loses_nothing_of_a_written_procedure(path: Path) -> None:
    written = json.loads(path.read_text())
    content = written.get("content", written)
    again = content_of(frame_of(content), with_keys(rows_of(content)))
    assert procedure_from_data(again) == procedure_from_data(content)


def test_rows_are_added_moved_and_removed() -> None:
    rows = [{"title": name} for name in "abc"]

    def after(command: str) -> str:
        return "".join(row["title"] or "-" for row in changed(rows, "steps", command, {"title": ""}))

    assert after("steps:add") == "abc-"
    assert after("steps:after:0") == "a-bc"
    assert after("steps:remove:1") == "ac"
    assert after("steps:up:1") == "bac"
    assert after("steps:down:1") == "acb"
    assert after("steps:up:0") == after("steps:down:2") == after("points:add") == after("steps:up:9") == "abc"


def test_rows_come_back_from_a_form_as_they_were() -> None:
    rows = [{name: [] if name in ("zones", "when_all", "when_none") else "x" for name in StepRow.base_fields}]
    from scheduling.screens.procedure_rows import Offers

    (form,) = forms_of(rows, "steps", StepRow, offers=Offers())
    post = QueryDict(mutable=True)
    post["steps-rows"] = "1"
    for key, values in form.data.lists():
        post.setlist(key, values)
    assert rows_from(post, "steps", StepRow) == rows
