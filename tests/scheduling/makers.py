"""Made-up things of the scheduling room: kinds of event, procedures, rules, tasks.

`make_workshop()` is a small operator in working order: every kind of event, two procedures, and the rule that a
replaced panel calls for a purge and then a flow test.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import factory
from factory.django import DjangoModelFactory

from fleet.common.actor import Role
from fleet.models import Aircraft, Component, Operator
from scheduling.models import (
    Consequence,
    Event,
    EventKind,
    Procedure,
    ProcedureVersion,
    Relief,
    ReliefCategory,
    Task,
    TaskState,
    TriggerRule,
)
from scheduling.services.events import EventReport, Reported, report_event
from tests.makers import FAR_OFF, NOON, ComponentMaker, House, OperatorMaker, at, fit, make_house

# code: (name, change, kinds of component, needs a position, restarts the baseline, by people, is a defect)
EVENT_KINDS: dict[str, tuple[str, str, tuple[str, ...], bool, bool, bool, bool]] = {
    "panel-replaced": ("Panel replaced", "replace", ("porous-panel",), True, True, True, False),
    "tank-refitted": ("Tank removed and refitted", "refit", ("fluid-tank",), True, True, True, False),
    "pump-changed": ("Pump changed", "replace", ("fluid-pump",), True, True, True, False),
    "filter-changed": ("Filter changed", "replace", ("fluid-filter",), True, True, True, False),
    "proportioning-unit-changed": (
        "Proportioning unit changed",
        "replace",
        ("proportioning-unit",),
        True,
        True,
        True,
        False,
    ),
    "line-opened": ("Line opened", "none", (), False, True, True, False),
    "contaminated-fluid": ("Contaminated fluid found", "none", (), False, True, True, True),
    "lightning-strike": ("Lightning strike", "none", (), False, False, True, False),
    "propeller-strike": ("Propeller strike", "none", (), False, False, True, False),
    "flow-test-failed": ("Flow test failed", "none", (), False, False, False, True),
    "trend-alarm": ("Trend alarm", "none", (), False, False, False, False),
    "long-storage": ("Long storage", "none", (), False, False, True, False),
    "panel-removed": ("Panel removed", "remove", ("porous-panel",), True, True, True, False),
    "panel-fitted": ("Panel fitted", "fit", ("porous-panel",), True, True, True, False),
}


def make_event_kinds(operator: Operator) -> dict[str, EventKind]:
    """Every kind of event above, by code."""
    return {
        code: EventKind.objects.create(
            operator=operator,
            code=code,
            name=name,
            change=change,
            component_kinds=list(kinds),
            needs_position=needs_position,
            restarts_baseline=restarts,
            is_reported_by_people=by_people,
            is_defect=is_defect,
            order=order,
        )
        for order, (code, (name, change, kinds, needs_position, restarts, by_people, is_defect)) in enumerate(
            EVENT_KINDS.items(), 1
        )
    }


CONTENT: dict[str, Any] = {
    "purpose": "Fill the lines and drive the air out.",
    "cautions": ["Fluid on the floor is slippery."],
    "equipment": [],
    "fluid": {"minimum": "20", "unit": "L", "note": ""},
    "points": [],
    "steps": [
        {"key": "chocks", "kind": "check", "title": "Chocks in place"},
        {"key": "run", "kind": "timed_run", "title": "Run the pump", "seconds": "60"},
    ],
    "follow_up_on_fail": "",
}
FLOW_TEST: dict[str, Any] = {
    "purpose": "Measure what each side delivers.",
    "cautions": ["Glycol irritates the eyes: wear goggles."],
    "equipment": [{"role": "cylinder", "kind": "measuring-cylinder", "name": "Measuring cylinder 2 L"}],
    "fluid": {"minimum": "20", "unit": "L", "note": ""},
    "points": [
        {
            "key": f"flow-{side}",
            "name": f"Flow, {side} side",
            "unit": "mL",
            "side": side,
            "limit": {"kind": "nominal", "nominal": "1550", "plus": "600", "minus": "300", "unit": "mL"},
            "trend": True,
        }
        for side in ("left", "right")
    ],
    "steps": [
        {"key": "run", "kind": "timed_run", "title": "Run for five minutes", "seconds": "300"},
        {
            "key": "collect",
            "kind": "collect",
            "title": "Collect both sides",
            "points": {"left": "flow-left", "right": "flow-right"},
            "run_step": "run",
        },
    ],
    "follow_up_on_fail": "flow-test-failed",
}


class ProcedureMaker(DjangoModelFactory):
    class Meta:
        model = Procedure

    operator = factory.SubFactory(OperatorMaker)
    code = factory.Sequence(lambda n: f"procedure-{n}")
    title = factory.LazyAttribute(lambda procedure: procedure.code.replace("-", " ").capitalize())


class VersionMaker(DjangoModelFactory):
    """The current first version of a procedure with an icing consequence."""

    class Meta:
        model = ProcedureVersion

    procedure = factory.SubFactory(ProcedureMaker)
    number = 1
    state = ProcedureVersion.State.CURRENT
    content = factory.LazyFunction(lambda: dict(CONTENT))
    approved_reference = "Maintenance manual 30-11"
    approved_revision = "4"
    ata = "30-11"
    consequence = Consequence.ICING
    minutes = 60
    people = 1
    written_at = at(-365)


def make_procedure(operator: Operator, code: str, **version: Any) -> Procedure:
    """A procedure in force; the keywords go to its version."""
    procedure: Procedure = ProcedureMaker(operator=operator, code=code)
    VersionMaker(procedure=procedure, **version)
    return procedure


def raises(order: int, code: str, before: str = "next_icing_flight", **more: Any) -> dict[str, Any]:
    """One task of a rule's data: `raises(1, "panel-purge")`."""
    title = code.replace("-", " ").capitalize()
    return {"order": order, "procedure_code": code, "title": title, "before": {"kind": before}, **more}


PURGE_THEN_TEST = {
    "where": {},
    "raises": [
        raises(1, "panel-purge", "next_task", reason="Air in the lines makes readings useless."),
        raises(2, "panel-flow-test", reason="A new panel must prove its flow."),
    ],
}


def make_rule(
    operator: Operator, kind: str, code: str = "", content: dict[str, Any] | None = None, **values: Any
) -> TriggerRule:
    """A rule in force for a kind of event; a purge and then a flow test unless said otherwise."""
    rule: TriggerRule = TriggerRule.objects.create(
        operator=operator,
        code=code or f"rule-{kind}",
        event_kind=EventKind.objects.get(operator=operator, code=kind),
        title=f"After: {kind}",
        content=content or PURGE_THEN_TEST,
        source="made up",
        written_at=NOON,
        **values,
    )
    return rule


@dataclass(frozen=True, slots=True)
class Workshop:
    """A house with kinds of event, procedures, rules, and parts fitted in every position of the fluid system."""

    house: House
    kinds: dict[str, EventKind]

    @property
    def aircraft(self) -> Aircraft:
        return self.house.aircraft

    @property
    def operator(self) -> Operator:
        return self.house.operator

    def spare(self, position_code: str) -> Component:
        """A component in store that fits there."""
        position = self.house.position(position_code)
        spare: Component = ComponentMaker(operator=self.operator, kind=position.kind)
        return spare

    def report(self, kind: str, key: str, role: Role | str = Role.TECHNICIAN, **values: Any) -> Reported:
        """Report an event through the service; `at` is NOON unless said otherwise."""
        report = EventReport(
            aircraft_id=values.pop("aircraft", self.aircraft).pk,
            kind_code=kind,
            at=values.pop("at", NOON),
            key=key,
            **values,
        )
        return report_event(actor=self.house.actor(role), report=report)

    def replace_panel(self, key: str, position_code: str = "panel-left", **values: Any) -> Reported:
        """A panel came off and a spare from the store went on."""
        return self.report(
            "panel-replaced",
            key,
            position_code=position_code,
            component_on_id=self.spare(position_code).pk,
            **values,
        )


FITTED = ("panel-left", "panel-right", "tank", "pump", "filter", "proportioning-unit")


def make_workshop(rules: Iterable[str] = ("panel-replaced",), **aircraft: Any) -> Workshop:
    """A small operator in working order; `rules` are the kinds of event answered by purge and flow test."""
    house = make_house(**aircraft)
    kinds = make_event_kinds(house.operator)
    make_procedure(house.operator, "panel-purge")
    make_procedure(house.operator, "panel-flow-test", content=FLOW_TEST)
    for kind in rules:
        make_rule(house.operator, kind)
    for position in FITTED:
        fit(house.aircraft, position)
    return Workshop(house, kinds)


class TaskMaker(DjangoModelFactory):
    """A task raised at NOON that stops flight in icing and is to be done before the next such flight."""

    class Meta:
        model = Task

    class Params:
        code = factory.Sequence(lambda n: f"work-{n}")

    operator = factory.SelfAttribute("aircraft.operator")
    procedure = factory.LazyAttribute(lambda task: make_procedure(task.aircraft.operator, task.code))
    title = factory.LazyAttribute(lambda task: task.procedure.title)
    consequence = Consequence.ICING
    before = "next_icing_flight"
    raised_at = NOON


def close_task(task: Task, closed_at: Any = None, started_at: Any = None) -> Task:
    """Write a task down as closed by a signed record, without the record."""
    task.refresh_from_db()
    task.state = TaskState.CLOSED
    task.started_at = started_at or closed_at or at(hours=1)
    task.closed_at = closed_at or at(hours=2)
    task.proof = "QX-T000-000001"
    task.save()
    return task


def make_relief(aircraft: Aircraft, person: Any, **values: Any) -> Relief:
    """Approved relief for ice protection, running for ever unless said otherwise."""
    category, _ = ReliefCategory.objects.get_or_create(
        operator=aircraft.operator, code="C", defaults={"days": 10, "source": "made up"}
    )
    usual = {
        "item": "30-11-1",
        "reference": "MEL revision 3",
        "recorded_at": NOON,
        "ends_at": NOON.replace(year=FAR_OFF.year - 1),
        "granted_by": person,
    }
    relief: Relief = Relief.objects.create(aircraft=aircraft, category=category, **(usual | values))
    return relief


def titles(tasks: Iterable[Task]) -> list[str]:
    return [task.title for task in tasks]


def counts(*models: Any) -> tuple[int, ...]:
    """How many rows there are, to prove that nothing was written."""
    return tuple(model.objects.count() for model in models or (Event, Task, TriggerRule))
