"""Reporting events: what they raise, what merges, what waits."""

from typing import Any

import pytest

from fleet.common.actor import Role
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.models import Component, Installation, TrailEntry
from fleet.selectors.meters import Counters
from fleet.services.configuration import NewComponent
from scheduling.models import Event, Task, TaskCause, TaskState, TaskWait
from scheduling.services.accomplishment import Completion
from scheduling.services.tasks import complete_task, hand_in_task, start_task, withdraw_task
from tests.makers import at, make_house
from tests.scheduling.makers import Workshop, make_procedure, make_rule, make_workshop, raises, titles
from tests.words import plain, plain_lines

pytestmark = pytest.mark.django_db


@pytest.fixture
def workshop() -> Workshop:
    return make_workshop(rules=("panel-replaced", "line-opened"))


def sign_off(workshop: Workshop, task: Task, **moments: Any) -> Task:
    """Start, hand in and close a task as a signed record would."""
    actor = workshop.house.actor(Role.TECHNICIAN)
    start_task(actor=actor, task_id=task.pk, at=moments.get("started"))
    hand_in_task(actor=actor, task_id=task.pk)
    moment = moments.get("closed", at(hours=2))
    completion = Completion(task.pk, moment, Counters(60_000, 1_200, 1_200), "QX-T-000001")
    return complete_task(actor=actor, completion=completion)


def test_a_replaced_panel_raises_a_purge_and_then_a_flow_test_that_waits_for_it(workshop: Workshop) -> None:
    reported = workshop.replace_panel("first")
    purge, test = reported.raised
    assert titles(reported.raised) == ["Panel purge", "Panel flow test"]
    assert [task.before for task in reported.raised] == ["next_icing_flight", "next_icing_flight"]
    assert list(test.waits.values_list("first_id", flat=True)) == [purge.pk]
    assert plain(purge.causes.get().words) == (
        "Panel replaced at panel left on 3 Mar 2025: rule rule-panel-replaced version 1 matched (the event is "
        "panel replaced). Air in the lines makes readings useless."
    )
    assert TrailEntry.objects.get(action="report_event").words.startswith("Panel replaced at panel left")


def test_a_replaced_panel_moves_the_configuration_in_the_same_transaction(workshop: Workshop) -> None:
    spare = workshop.spare("panel-left")
    old = Installation.objects.get(position__code="panel-left").component
    event = workshop.report(
        "panel-replaced", "first", position_code="panel-left", component_on_id=spare.pk
    ).event
    assert (event.component_off, event.component_on) == (old, spare)
    assert Installation.objects.get(position__code="panel-left", removed_at=None).component == spare
    assert Installation.objects.get(component=old).removed_at == at()


def test_two_events_before_the_purge_raise_one_purge_and_one_flow_test_that_name_both(
    workshop: Workshop,
) -> None:
    workshop.replace_panel("first")
    second = workshop.report("line-opened", "second", at=at(hours=1))
    assert (second.raised, titles(second.joined)) == ((), ["Panel purge", "Panel flow test"])
    assert Task.objects.count() == 2
    for task in Task.objects.all():
        assert [cause.event.kind.code for cause in task.causes.all()] == ["panel-replaced", "line-opened"]
    assert TaskWait.objects.count() == 1


def test_an_event_after_the_signed_purge_raises_it_again_and_blocks_the_flow_test(
    workshop: Workshop,
) -> None:
    purge, test = workshop.replace_panel("first").raised
    sign_off(workshop, purge, started=at(hours=1))
    second = workshop.report("line-opened", "second", at=at(hours=3))
    assert titles(second.raised) == ["Panel purge"]
    assert titles(second.joined) == ["Panel flow test"]
    assert second.raised[0].pk != purge.pk
    with pytest.raises(Conflict) as refused:
        start_task(actor=workshop.house.actor(Role.TECHNICIAN), task_id=test.pk)
    assert refused.value.code == "waits_for_other_work"
    assert refused.value.sentence == "Panel flow test cannot start: Panel purge must be closed first."
    sign_off(workshop, second.raised[0], closed=at(hours=4))
    assert start_task(actor=workshop.house.actor(Role.TECHNICIAN), task_id=test.pk).state == "in_work"


def test_an_event_reported_late_is_answered_by_a_purge_begun_after_it_happened(workshop: Workshop) -> None:
    purge, _ = workshop.replace_panel("first").raised
    sign_off(workshop, purge, started=at(hours=4), closed=at(hours=5))
    late = workshop.report("line-opened", "late", at=at(hours=3))
    assert late.raised == ()
    assert plain_lines(late.notes) == (
        "Panel purge was already done after the event. Line opened on 3 Mar 2025: rule rule-line-opened "
        "version 1 matched (the event is line opened). Air in the lines makes readings useless.",
    )
    assert titles(late.joined) == ["Panel flow test"]


def test_work_begun_before_an_event_does_not_close_the_task_when_it_is_signed(workshop: Workshop) -> None:
    purge, _ = workshop.replace_panel("first").raised
    actor = workshop.house.actor(Role.TECHNICIAN)
    start_task(actor=actor, task_id=purge.pk, at=at(hours=1))
    second = workshop.report("line-opened", "second", at=at(hours=2))
    assert second.notes == ("Panel purge: work begun before the event does not count and starts again.",)
    hand_in_task(actor=actor, task_id=purge.pk)
    completion = Completion(purge.pk, at(hours=3), Counters(60_000, 1_200, 1_200), "QX-T-000001")
    task = complete_task(actor=actor, completion=completion)
    assert (task.state, task.started_at, task.proof) == (TaskState.RAISED, None, "")
    assert task.causes.last().words == (
        "record QX-T-000001 does not answer it: it was begun before the event “Line opened”"
    )


def test_the_same_key_again_answers_the_same_and_doubles_nothing(workshop: Workshop) -> None:
    spare = workshop.spare("panel-left")
    place = {"position_code": "panel-left", "component_on_id": spare.pk}
    first = workshop.report("panel-replaced", "first", **place)
    before = [model.objects.count() for model in (Event, Task, TaskCause, Installation, TrailEntry)]
    again = workshop.report("panel-replaced", "first", Role.CONTROLLER, **place)
    assert again.repeated
    assert (again.event, again.raised, again.joined) == (first.event, first.raised, first.joined)
    assert [model.objects.count() for model in (Event, Task, TaskCause, Installation, TrailEntry)] == before


def test_a_key_used_for_another_event_is_refused(workshop: Workshop) -> None:
    workshop.report("line-opened", "first")
    with pytest.raises(Conflict, match="used for another event"):
        workshop.report("lightning-strike", "first")


def test_withdrawing_its_tasks_answers_a_wrong_event(workshop: Workshop) -> None:
    raised = workshop.report("line-opened", "wrong").raised
    controller = workshop.house.actor(Role.CONTROLLER)
    for task in raised:
        withdraw_task(actor=controller, task_id=task.pk, reason="another aircraft was meant")
    assert set(Task.objects.values_list("state", flat=True)) == {"withdrawn"}
    assert titles(workshop.report("line-opened", "right", at=at(hours=1)).raised) == [
        "Panel purge",
        "Panel flow test",
    ]


@pytest.mark.parametrize(
    ("kind", "position", "part_goes_on"),
    [
        ("panel-replaced", "panel-right", True),
        ("tank-refitted", "tank", False),
        ("pump-changed", "pump", True),
        ("filter-changed", "filter", True),
        ("proportioning-unit-changed", "proportioning-unit", True),
        ("panel-removed", "panel-left", False),
    ],
)
def test_kinds_that_change_the_configuration_do(
    workshop: Workshop, kind: str, position: str, part_goes_on: bool
) -> None:
    old = Installation.objects.get(position__code=position, removed_at=None)
    spare = workshop.spare(position) if part_goes_on else None
    event = workshop.report(
        kind, "first", position_code=position, component_on_id=spare.pk if spare else None
    ).event
    old.refresh_from_db()
    now_there = Installation.objects.filter(position__code=position, removed_at=None).first()
    assert (old.removed_at, event.component_off) == (at(), old.component)
    expected = spare if spare else old.component if kind == "tank-refitted" else None
    assert (now_there.component if now_there else None) == expected
    assert event.component_on == expected


@pytest.mark.parametrize(
    "kind", ["line-opened", "contaminated-fluid", "lightning-strike", "propeller-strike", "long-storage"]
)
def test_kinds_without_a_place_are_reported_without_one(workshop: Workshop, kind: str) -> None:
    event = workshop.report(kind, "first", note="seen at the walk-round").event
    assert (event.position, event.component_off, event.component_on) == (None, None, None)


def test_a_panel_is_fitted_where_none_sits(workshop: Workshop) -> None:
    workshop.report("panel-removed", "off", position_code="panel-left")
    spare = workshop.spare("panel-left")
    event = workshop.report(
        "panel-fitted", "on", position_code="panel-left", component_on_id=spare.pk, at=at(1)
    ).event
    assert (event.component_off, event.component_on) == (None, spare)


def test_a_new_component_is_registered_with_the_event(workshop: Workshop) -> None:
    new = NewComponent("", "30-110-9", "NEW-1", opening_minutes=600)
    event = workshop.report("panel-replaced", "first", position_code="panel-left", new_component=new).event
    assert (event.component_on.serial_number, event.component_on.kind.code) == ("NEW-1", "porous-panel")
    assert event.component_on.opening_minutes == 600


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ({"kind": "no-such"}, "kind", "is no kind of event here"),
        ({"kind": "flow-test-failed", "by_hand": True}, "kind", "is not reported by hand"),
        ({"position_code": ""}, "position", "is missing"),
        ({"position_code": "tank"}, "position", "which “Panel replaced” is not about"),
        ({"position_code": "second-pump"}, "position", "is no position of this aircraft"),
        ({}, "component_on", "is missing"),
        ({"at": at(365 * 60)}, "at", "lies in the future"),
        ({"key": " "}, "key", "is missing"),
        ({"new_component": NewComponent("fluid-tank", "p", "s")}, "new_component.kind_code", "is no porous"),
        ({"new_component": NewComponent("", "p", " ")}, "new_component.serial_number", "are needed"),
        ({"kind": "line-opened", "component_on_id": 1}, "component_on", "nothing new is fitted"),
    ],
)
def test_a_wrong_report_names_the_field_and_writes_nothing(
    workshop: Workshop, values: dict[str, Any], field: str, words: str
) -> None:
    kind, key = values.pop("kind", "panel-replaced"), values.pop("key", "first")
    values = {"position_code": "panel-left", **values}
    before = [model.objects.count() for model in (Event, Task, Component, Installation, TrailEntry)]
    with pytest.raises(Invalid) as refused:
        workshop.report(kind, key, **values)
    assert refused.value.reasons[0].field == field
    assert words in refused.value.reasons[0].detail
    assert [m.objects.count() for m in (Event, Task, Component, Installation, TrailEntry)] == before


def test_a_refusal_after_the_configuration_moved_takes_the_move_back(workshop: Workshop) -> None:
    make_rule(workshop.operator, "tank-refitted", content={"where": {}, "raises": [raises(1, "not-there")]})
    with pytest.raises(Invalid, match="no procedure in force"):
        workshop.report("tank-refitted", "first", position_code="tank")
    assert Installation.objects.filter(position__code="tank").count() == 1
    assert Event.objects.count() == 0


def test_rules_ask_for_options_positions_and_types(workshop: Workshop) -> None:
    make_procedure(workshop.operator, "pod-check")
    for code, where in (
        ("pod", {"options_required": ["belly-pod"]}),
        ("no-pod", {"options_absent": ["belly-pod"]}),
        ("left", {"positions": ["panel-left"]}),
        ("type", {"aircraft_types": ["another"]}),
    ):
        make_procedure(workshop.operator, f"check-{code}")
        content = {"where": where, "raises": [raises(1, f"check-{code}")]}
        make_rule(workshop.operator, "panel-replaced", f"rule-{code}", content)
    left = workshop.replace_panel("first").raised
    assert sorted(titles(left)) == ["Check left", "Check no pod", "Panel flow test", "Panel purge"]
    workshop.aircraft.options.add(workshop.house.aircraft_type.options.get(code="belly-pod"))
    right = workshop.replace_panel("second", "panel-right").raised
    assert titles(right) == ["Check pod"]


def test_a_task_for_each_position_names_the_position(workshop: Workshop) -> None:
    make_procedure(workshop.operator, "torque-check")
    content = {"where": {}, "raises": [raises(1, "torque-check", "next_flight", per_position=True)]}
    make_rule(workshop.operator, "panel-replaced", "torque", content)
    workshop.replace_panel("first")
    workshop.replace_panel("second", "panel-right")
    made = Task.objects.filter(procedure__code="torque-check")
    assert titles(made) == ["Torque check, panel left", "Torque check, panel right"]
    assert [task.position.code for task in made] == ["panel-left", "panel-right"]


def test_limits_in_days_and_hours_are_counted_from_the_event(workshop: Workshop) -> None:
    make_procedure(workshop.operator, "hours-check")
    make_procedure(workshop.operator, "days-check")
    content = {
        "where": {},
        "raises": [
            {**raises(1, "hours-check"), "before": {"kind": "within_hours", "amount": 10}},
            {**raises(1, "days-check"), "before": {"kind": "within_days", "amount": 5}},
        ],
    }
    make_rule(workshop.operator, "lightning-strike", content=content)
    workshop.report("lightning-strike", "first")
    hours, days = (Task.objects.get(procedure__code=f"{name}-check") for name in ("hours", "days"))
    assert (hours.before_amount, hours.latest_minutes) == (600, 60_600)
    assert (days.before_amount, str(days.latest_day)) == (5, "2025-03-08")


@pytest.mark.parametrize("role", [Role.AUDITOR, Role.ADMINISTRATOR])
def test_who_may_not_report_writes_nothing(workshop: Workshop, role: Role) -> None:
    with pytest.raises(NotAllowed):
        workshop.report("line-opened", "first", role)
    assert (Event.objects.count(), Task.objects.count()) == (0, 0)


def test_another_operators_aircraft_is_not_found(workshop: Workshop) -> None:
    stranger = make_house()
    with pytest.raises(NotFound):
        workshop.report("line-opened", "first", aircraft=stranger.aircraft)
    assert Event.objects.count() == 0


def test_events_are_never_changed_or_deleted(workshop: Workshop) -> None:
    from django.db import DatabaseError, transaction

    event = workshop.report("line-opened", "first").event
    for change in (
        lambda: Event.objects.filter(pk=event.pk).update(note="other"),
        lambda: TaskCause.objects.filter(event=event).update(words="other"),
    ):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            change()
