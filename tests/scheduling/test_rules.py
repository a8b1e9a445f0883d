"""Rules and kinds of event as data: versions, switching, trying out on what was reported."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.models import TrailEntry
from scheduling.models import EventKind, Task, TriggerRule
from scheduling.selectors.rules import rule_versions, trial_of, try_rules
from scheduling.services.rules import (
    KindText,
    RuleText,
    add_event_kind,
    retire_event_kind,
    set_rule_enabled,
    write_rule,
)
from tests.makers import make_house
from tests.scheduling.makers import PURGE_THEN_TEST, Workshop, make_workshop, raises, titles

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop(rules=())


def text(**values: Any) -> RuleText:
    usual: dict[str, Any] = {
        "code": "after-panel",
        "event_kind": "panel-replaced",
        "title": "Purge and test after a panel",
        "content": PURGE_THEN_TEST,
        "source": "Maintenance manual 30-11",
    }
    return RuleText(**(usual | values))


def test_a_rule_is_written_and_raises_work_from_then_on(workshop: Workshop) -> None:
    rule = write_rule(actor=workshop.house.actor(Role.CONTROLLER), text=text())
    assert (rule.version, rule.is_current, rule.is_enabled) == (1, True, True)
    assert titles(workshop.replace_panel("first").raised) == ["Panel purge", "Panel flow test"]


def test_editing_makes_the_next_version_and_keeps_the_old_one(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    write_rule(actor=actor, text=text())
    raised = workshop.replace_panel("first").raised
    shorter = {"where": {}, "raises": [raises(1, "panel-flow-test")]}
    assert write_rule(actor=actor, text=text(content=shorter)).version == 2
    versions = list(rule_versions(actor, "after-panel"))
    assert [(rule.version, rule.is_current) for rule in versions] == [(2, True), (1, False)]
    assert raised[0].causes.get().rule == versions[1]


def test_the_same_text_again_writes_no_version(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    write_rule(actor=actor, text=text())
    assert write_rule(actor=actor, text=text()).version == 1
    assert TrailEntry.objects.filter(action="write_rule").count() == 1


@pytest.mark.parametrize(
    ("values", "field"),
    [
        ({"event_kind": "no-such"}, "event_kind"),
        ({"code": "Two Words"}, "code"),
        ({"title": ""}, "title"),
        ({"source": " "}, "source"),
        ({"content": {"where": {}, "raises": []}}, "content.raises"),
        ({"content": {"raises": [raises(1, "no-such")]}}, "content.raises.0.procedure_code"),
        ({"content": {"raises": [raises(1, "panel-purge", "soon")]}}, "content.raises.0.before.kind"),
        ({"content": {**PURGE_THEN_TEST, "where": {"positions": ["nowhere"]}}}, "content.where.positions"),
        ({"content": {**PURGE_THEN_TEST, "where": {"options_required": ["no"]}}}, "content.where.options"),
        ({"content": {**PURGE_THEN_TEST, "where": {"position": ["x"]}}}, "content.where.position"),
        (
            {"content": {**PURGE_THEN_TEST, "where": {"aircraft_types": ["x"]}}},
            "content.where.aircraft_types",
        ),
        (
            {"content": {**PURGE_THEN_TEST, "where": {"component_types": ["x"]}}},
            "content.where.component_types",
        ),
    ],
)
def test_a_wrong_rule_names_every_field_and_writes_nothing(
    workshop: Workshop, values: dict[str, Any], field: str
) -> None:
    with pytest.raises(Invalid) as refused:
        write_rule(actor=workshop.house.actor(Role.CONTROLLER), text=text(**values))
    assert field in [reason.field for reason in refused.value.reasons]
    assert TriggerRule.objects.count() == 0


def test_a_rule_switched_off_raises_nothing_until_it_is_on_again(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    write_rule(actor=actor, text=text())
    set_rule_enabled(actor=actor, code="after-panel", enabled=False)
    assert workshop.replace_panel("first").raised == ()
    set_rule_enabled(actor=actor, code="after-panel", enabled=True)
    assert len(workshop.replace_panel("second", "panel-right").raised) == 2


def report_last_month(workshop: Workshop, kind: str, key: str, **values: Any) -> None:
    workshop.report(kind, key, at=now() - timedelta(days=30), **values)


def test_a_dry_run_says_what_a_rule_would_have_raised_and_writes_nothing(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    for key in ("first", "second"):
        report_last_month(workshop, "line-opened", key)
    report_last_month(workshop, "lightning-strike", "third")
    trial = trial_of("trial", "line-opened", PURGE_THEN_TEST)
    before = Task.objects.count()
    found = try_rules(actor, trial)
    assert (found.events_seen, found.events_matched) == (2, 2)
    assert found.demands_by_procedure == (("panel-flow-test", 2), ("panel-purge", 2))
    assert Task.objects.count() == before


def test_a_dry_run_names_the_nearest_miss_in_words(workshop: Workshop) -> None:
    report_last_month(workshop, "line-opened", "first")
    where = {"options_required": ["belly-pod"]}
    trial = trial_of("pod", "line-opened", {**PURGE_THEN_TEST, "where": where})
    (line,) = try_rules(workshop.house.actor(Role.DIRECTOR), trial).lines
    assert line.nearest_miss == "Rule pod did not match because option belly-pod is not fitted."


def test_a_dry_run_looks_back_one_year_only(workshop: Workshop) -> None:
    workshop.report("line-opened", "old", at=now() - timedelta(days=366))
    assert try_rules(workshop.house.actor(Role.CONTROLLER)).events_seen == 0


def test_a_dry_run_asks_as_much_of_twenty_events_as_of_ten(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    trial = trial_of("trial", "line-opened", PURGE_THEN_TEST)
    asked = []
    for begin in (0, 10):
        for number in range(begin, begin + 10):
            report_last_month(workshop, "line-opened", f"k{number}")
        with CaptureQueriesContext(
            connection,
        ) as queries:
            try_rules(actor, trial)
        asked.append(len(queries))
    assert asked[0] == asked[1] <= 3


def test_a_kind_of_event_is_added_and_retired(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.DIRECTOR)
    add_event_kind(actor=actor, kind=KindText("bird-strike", "Bird strike"))
    assert workshop.report("bird-strike", "first").event.kind.name == "Bird strike"
    retire_event_kind(actor=actor, code="bird-strike")
    with pytest.raises(Invalid):
        workshop.report("bird-strike", "second")


@pytest.mark.parametrize(
    ("kind", "field"),
    [
        (KindText("panel-replaced", "Again"), "code"),
        (KindText("Big Code", "x"), "code"),
        (KindText("x", " "), "name"),
        (KindText("x", "X", change="explode"), "change"),
        (KindText("x", "X", change="replace"), "component_kinds"),
        (KindText("x", "X", component_kinds=("no-such",)), "component_kinds"),
    ],
)
def test_a_wrong_kind_of_event_names_its_field(workshop: Workshop, kind: KindText, field: str) -> None:
    before = EventKind.objects.count()
    with pytest.raises(Invalid) as refused:
        add_event_kind(actor=workshop.house.actor(Role.DIRECTOR), kind=kind)
    assert field in [reason.field for reason in refused.value.reasons]
    assert EventKind.objects.count() == before


def test_a_kind_in_use_is_not_retired(workshop: Workshop) -> None:
    actor = workshop.house.actor(Role.CONTROLLER)
    write_rule(actor=actor, text=text())
    with pytest.raises(Conflict, match="rule after-panel"):
        retire_event_kind(actor=actor, code="panel-replaced")
    with pytest.raises(Conflict, match="procedure panel-flow-test"):
        retire_event_kind(actor=actor, code="flow-test-failed")


COMMANDS: dict[str, Callable[[Any], Any]] = {
    "write": lambda actor: write_rule(actor=actor, text=text()),
    "switch": lambda actor: set_rule_enabled(actor=actor, code="there", enabled=False),
    "add": lambda actor: add_event_kind(actor=actor, kind=KindText("bird-strike", "Bird strike")),
    "retire": lambda actor: retire_event_kind(actor=actor, code="long-storage"),
}


@pytest.mark.parametrize("role", [Role.TECHNICIAN, Role.INSPECTOR, Role.AUDITOR])
@pytest.mark.parametrize("command", list(COMMANDS))
def test_who_does_not_edit_the_programme_writes_nothing(workshop: Workshop, command: str, role: Role) -> None:
    write_rule(actor=workshop.house.actor(Role.CONTROLLER), text=text(code="there"))
    before = (
        list(TriggerRule.objects.values_list("code", "is_enabled")),
        list(EventKind.objects.values_list("code", "retired_on")),
        TrailEntry.objects.count(),
    )
    with pytest.raises(NotAllowed):
        COMMANDS[command](workshop.house.actor(role))
    assert before == (
        list(TriggerRule.objects.values_list("code", "is_enabled")),
        list(EventKind.objects.values_list("code", "retired_on")),
        TrailEntry.objects.count(),
    )


def test_another_operators_rule_is_not_found(workshop: Workshop) -> None:
    write_rule(actor=workshop.house.actor(Role.CONTROLLER), text=text())
    with pytest.raises(NotFound):
        set_rule_enabled(actor=make_house().actor(Role.DIRECTOR), code="after-panel", enabled=False)
