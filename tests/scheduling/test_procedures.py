"""Procedures as versioned data: drafts, publishing, history, and texts once used that never change."""

from collections.abc import Callable
from copy import deepcopy
from typing import Any

import pytest
from django.db import DatabaseError, transaction

from fleet.common.actor import Role
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.models import TrailEntry
from scheduling.models import Procedure, ProcedureVersion
from scheduling.selectors.procedures import history_of, procedure_for, reading_of, version_for
from scheduling.services.procedures import (
    Draft,
    discard_draft,
    publish_version,
    save_draft,
    withdraw_procedure,
)
from scheduling.services.tasks import start_task
from tests.makers import make_house
from tests.scheduling.makers import CONTENT, FLOW_TEST, Workshop, make_rule, make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop(rules=())


def draft(**values: Any) -> Draft:
    usual: dict[str, Any] = {
        "code": "windshield-spray-test",
        "title": "Windshield spray test",
        "content": CONTENT,
        "approved_reference": "Maintenance manual 30-40",
        "approved_revision": "7",
        "ata": "30-40",
        "consequence": "icing",
        "minutes": 45,
    }
    return Draft(**(usual | values))


def states(code: str) -> list[tuple[int, str]]:
    rows = ProcedureVersion.objects.filter(procedure__code=code).order_by("number")
    return list(rows.values_list("number", "state"))


def test_a_draft_is_saved_edited_in_place_and_published(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    save_draft(actor=actor, draft=draft())
    save_draft(actor=actor, draft=draft(minutes=50))
    assert states("windshield-spray-test") == [(1, "draft")]
    version = publish_version(actor=actor, code="windshield-spray-test")
    assert (version.state, version.minutes) == ("current", 50)


def test_editing_what_is_in_force_begins_the_next_version(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    save_draft(actor=actor, draft=draft(code="panel-purge", title="Panel purge"))
    assert states("panel-purge") == [(1, "current"), (2, "draft")]
    publish_version(actor=actor, code="panel-purge")
    assert states("panel-purge") == [(1, "superseded"), (2, "current")]


def test_a_version_once_used_is_not_changed_even_by_the_database(workshop: Workshop) -> None:
    make_rule(workshop.operator, "line-opened")
    purge, _ = workshop.report("line-opened", "first").raised
    start_task(actor=workshop.house.actor(Role.TECHNICIAN), task_id=purge.pk)
    used = ProcedureVersion.objects.get(procedure__code="panel-purge")
    with pytest.raises(DatabaseError, match="never changes"), transaction.atomic():
        ProcedureVersion.objects.filter(pk=used.pk).update(minutes=1)
    actor = workshop.house.actor(Role.CONTROLLER)
    save_draft(actor=actor, draft=draft(code="panel-purge", title="Panel purge", minutes=90))
    publish_version(actor=actor, code="panel-purge")
    used.refresh_from_db()
    purge.refresh_from_db()
    assert (used.state, used.minutes, purge.procedure_version) == ("superseded", 60, used)


OUTLETS_OF_THE_MOON = {"key": "o", "kind": "outlets", "title": "Wet", "zones": ["moon"]}


def wrong(path: str, value: Any) -> dict[str, Any]:
    content: Any = deepcopy(FLOW_TEST)
    *way, last = (int(name) if name.isdigit() else name for name in path.split("."))
    place = content
    for name in way:
        place = place[name]
    place[last] = value
    return {"content": content}


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"code": "Not A Code"}, "code"),
        ({"title": ""}, "title"),
        ({"approved_reference": ""}, "approved_reference"),
        ({"approved_revision": " "}, "approved_revision"),
        ({"minutes": 0}, "minutes"),
        ({"people": 0}, "people"),
        ({"consequence": "doom"}, "consequence"),
        ({"aircraft_type": "no-such"}, "aircraft_type"),
        ({"content": []}, "content"),
        (wrong("steps", []), "content.steps"),
        (wrong("purpose", ""), "content.purpose"),
        (wrong("steps.0.kind", "dance"), "content.steps.0.kind"),
        (wrong("steps.0.seconds", "0"), "content.steps.0.seconds"),
        (wrong("steps.0.surprise", "x"), "content.steps.0.surprise"),
        (wrong("steps.1.run_step", "no-such"), "content.steps.1.run_step"),
        (wrong("points.0.limit", {"kind": "minimum", "unit": "mL"}), "content.points.0.limit.minimum"),
        (wrong("points.0.side", "middle"), "content.points.0.side"),
        (wrong("steps.0.when", {"options_all": ["no-such"]}), "content.steps.0.when"),
        (wrong("steps.0.when", {"options_all": "belly-pod"}), "content.steps.0.when"),
        (wrong("follow_up_on_fail", "no-such"), "content.follow_up_on_fail"),
        (wrong("follow_up_on_fail", "panel-replaced"), "content.follow_up_on_fail"),
        (
            wrong("steps", [*FLOW_TEST["steps"], OUTLETS_OF_THE_MOON]),
            "content.steps.2.zones",
        ),
    ],
)
def test_a_wrong_draft_names_every_field_and_is_not_kept(
    workshop: Workshop, values: dict[str, Any], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        save_draft(actor=workshop.house.actor(Role.CONTROLLER), draft=draft(**values))
    assert field in [reason.field for reason in refused.value.reasons]
    assert not Procedure.objects.filter(code="windshield-spray-test").exists()


def test_the_type_of_a_procedure_that_was_in_force_does_not_change(workshop: Workshop) -> None:
    with pytest.raises(Invalid, match="cannot change once the procedure was in force"):
        save_draft(
            actor=workshop.house.actor(Role.CONTROLLER),
            draft=draft(code="panel-purge", aircraft_type=workshop.house.aircraft_type.code),
        )
    assert states("panel-purge") == [(1, "current")]


def test_a_draft_is_thrown_away_and_a_procedure_never_in_force_with_it(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    save_draft(actor=actor, draft=draft())
    assert discard_draft(actor=actor, code="windshield-spray-test") is None
    save_draft(actor=actor, draft=draft(code="panel-purge"))
    assert discard_draft(actor=actor, code="panel-purge") is not None
    assert states("panel-purge") == [(1, "current")]
    with pytest.raises(Conflict):
        publish_version(actor=actor, code="panel-purge")


def test_a_procedure_in_use_is_not_withdrawn_and_says_who_needs_it(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.DIRECTOR)
    rule = make_rule(workshop.operator, "line-opened")
    task = workshop.report("line-opened", "first").raised[0]
    with pytest.raises(Conflict) as refused:
        withdraw_procedure(actor=actor, code="panel-purge", reason="no longer in the manual")
    assert f"task {task.pk} on {workshop.aircraft}, rule {rule.code}" in refused.value.sentence


def test_a_withdrawn_procedure_comes_back_with_its_next_version(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.DIRECTOR)
    withdraw_procedure(actor=actor, code="panel-purge", reason="no longer in the manual")
    assert states("panel-purge") == [(1, "superseded")]
    save_draft(actor=actor, draft=draft(code="panel-purge"))
    publish_version(actor=actor, code="panel-purge")
    assert procedure_for(actor, "panel-purge").withdrawn_on is None


def test_a_version_reads_in_words(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.AUDITOR)
    reading = reading_of(actor, version_for(actor, "panel-flow-test", 1))
    assert [step.asks for step in reading.steps] == [
        ("Run for 300 s",),
        (
            "Left: Flow, left side: 1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)",
            "Right: Flow, right side: 1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)",
            "Collected during “Run for five minutes”",
        ),
    ]
    assert reading.points[0].more == "followed as a trend"


def test_the_history_says_in_words_what_changed(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    content = deepcopy(FLOW_TEST)
    content["points"][0]["limit"] = {"kind": "minimum", "minimum": "1300", "unit": "mL"}
    content["steps"][0]["seconds"] = "240"
    content["steps"].append({"key": "photo", "kind": "photo", "title": "Photograph the sheet"})
    content["cautions"] = []
    save_draft(
        actor=actor,
        draft=draft(code="panel-flow-test", title="Panel flow test", content=content, ata="30-11"),
    )
    newest, first = history_of(procedure_for(actor, "panel-flow-test").versions.all())
    assert first.differences == ()
    assert newest.differences == (
        "Approved data was “Maintenance manual 30-11”, is “Maintenance manual 30-40”.",
        "Revision of the approved data was “4”, is “7”.",
        "Minutes was “60”, is “45”.",
        "Caution left out: “Glycol irritates the eyes: wear goggles.”.",
        "Point “Flow, left side”: limit was “1550 mL +600/−300 mL (1250 to 2150 mL, both allowed)”, "
        "is “at least 1300 mL”.",
        "Step “Run for five minutes”: seconds was “300”, is “240”.",
        "Step added: “Photograph the sheet”.",
    )


COMMANDS: dict[str, Callable[[Any], Any]] = {
    "save": lambda actor: save_draft(actor=actor, draft=draft()),
    "publish": lambda actor: publish_version(actor=actor, code="panel-purge"),
    "discard": lambda actor: discard_draft(actor=actor, code="panel-purge"),
    "withdraw": lambda actor: withdraw_procedure(actor=actor, code="panel-purge", reason="x"),
}


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.INSPECTOR, Role.AUDITOR])
@pytest.mark.parametrize("command", list(COMMANDS))
def test_who_does_not_edit_the_programme_writes_nothing(workshop: Workshop, command: str, role: Role) -> None:
    save_draft(actor=workshop.house.actor(Role.CONTROLLER), draft=draft(code="panel-purge"))
    before = (states("panel-purge"), Procedure.objects.count(), TrailEntry.objects.count())
    with pytest.raises(NotAllowed):
        COMMANDS[command](workshop.house.actor(role))
    assert (states("panel-purge"), Procedure.objects.count(), TrailEntry.objects.count()) == before


def test_another_operators_procedure_is_not_found(workshop: Workshop) -> None:
    with pytest.raises(NotFound):
        publish_version(actor=make_house().actor(Role.DIRECTOR), code="panel-purge")
