"""A small workshop for tests of the records room: procedures, rules, tools, a lot, and runs worked to any point.

`make_workshop()` gives all of it. The limits are invented: 240 s, 1 500 mL +450/−250 a side, sides within 350 mL.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count
from typing import Any

from fleet.common.actor import Actor, Role
from fleet.models import Aircraft, Equipment, FluidLot
from records.models import BenchRun, SignedRecord
from records.selectors.runs import content_of_run
from records.services.finishing import finish_run
from records.services.provisions import NewPhoto, add_photo, use_equipment, use_lot
from records.services.runs import Entry, Opening, answer_step, open_run
from records.services.signing import Signing, sign
from scheduling.models import Event, EventKind, Procedure, ProcedureVersion, Task, TriggerRule
from scheduling.services.events import EventReport, report_event
from tests.makers import EquipmentMaker, FluidLotMaker, House, at, fit, make_house

PNG = b"\x89PNG\r\n\x1a\n" + bytes(64)
VOLT = {"kind": "nominal", "unit": "V", "nominal": "28.0", "plus": "0.5", "minus": "0.5"}
FLOW = {"kind": "nominal", "unit": "mL", "nominal": "1500", "plus": "450", "minus": "250"}
PAIR = {"kind": "pair_difference", "basis": "absolute", "maximum": "350", "unit": "mL"}


def flow_point(side: str) -> dict[str, Any]:
    return {
        "key": f"flow-{side}",
        "name": f"{side.capitalize()} side collected",
        "unit": "mL",
        "side": side,
        "limit": FLOW,
        "normalise": {"seconds": "240", "most_percent": "10"},
        "nominal": "1500",
        "trend": True,
    }


FLOW_TEST: dict[str, Any] = {
    "purpose": "Measure what each side delivers.",
    "cautions": ["The fluid is harmful if swallowed."],
    "equipment": [
        {"role": "voltmeter", "kind": "voltmeter", "name": "Voltmeter"},
        {"role": "cylinder", "kind": "measuring-cylinder", "name": "Measuring cylinder"},
        {
            "role": "pod",
            "kind": "thermometer",
            "name": "Pod thermometer",
            "when": {"options_all": ["belly-pod"]},
        },
    ],
    "fluid": {"minimum": "20", "unit": "L", "note": "in the tank"},
    "points": [
        {"key": "bus", "name": "Bus voltage", "unit": "V", "role": "precondition", "limit": VOLT},
        flow_point("left"),
        flow_point("right"),
        {
            "key": "flow-difference",
            "name": "Left against right",
            "unit": "mL",
            "of": ["flow-left", "flow-right"],
            "limit": PAIR,
        },
    ],
    "steps": [
        {"key": "clear", "kind": "caution", "title": "Propeller area clear"},
        {"key": "why", "kind": "note", "title": "Why this is done"},
        {"key": "power", "kind": "set_control", "title": "Ground power on", "control": "GPU", "state": "ON"},
        {
            "key": "glass",
            "kind": "check",
            "title": "Display shows NORMAL",
            "when": {"options_all": ["glass-cockpit"]},
        },
        {
            "key": "voltage",
            "kind": "read_value",
            "title": "Bus voltage",
            "point": "bus",
            "equipment_role": "voltmeter",
        },
        {
            "key": "wet",
            "kind": "outlets",
            "title": "Wing outlets wet",
            "zones": ["wing"],
            "longest_seconds": "300",
        },
        {
            "key": "run",
            "kind": "timed_run",
            "title": "Timed run",
            "seconds": "240",
            "tolerance_seconds": "24",
        },
        {
            "key": "collect",
            "kind": "collect",
            "title": "Collect both sides",
            "points": {"left": "flow-left", "right": "flow-right"},
            "run_step": "run",
        },
        {"key": "picture", "kind": "photo", "title": "Photograph both cylinders"},
    ],
    "follow_up_on_fail": "flow-test-failed",
}
PURGE: dict[str, Any] = {
    "purpose": "Drive the air out.",
    "cautions": [],
    "equipment": [],
    "fluid": None,
    "points": [],
    "steps": [
        {"key": "open", "kind": "check", "title": "Collecting sheet in place"},
        {
            "key": "pump",
            "kind": "duty_run",
            "title": "Pump in short runs",
            "runs": 2,
            "max_on_seconds": "10",
            "min_rest_seconds": "10",
        },
    ],
    "follow_up_on_fail": "",
}
AFTER_PANEL = {
    "raises": [
        {
            "order": 1,
            "procedure_code": "panel-purge",
            "title": "Panel purge",
            "before": {"kind": "next_task"},
        },
        {
            "order": 2,
            "procedure_code": "panel-flow-test",
            "title": "Panel flow test",
            "before": {"kind": "next_icing_flight"},
        },
    ]
}
KINDS = (
    ("panel-replaced", "Panel replaced", "replace", True),
    ("line-opened", "Fluid line opened", "none", True),
    ("flow-test-failed", "Flow test failed", "none", False),
    ("trend-alarm", "Trend alarm", "none", False),
)


def make_procedure(house: House, code: str, content: Mapping[str, Any], **values: Any) -> ProcedureVersion:
    """One procedure with its current version; chapter 30, no countersignature unless said."""
    title = code.replace("-", " ").capitalize()
    procedure = Procedure.objects.create(operator=house.operator, code=code, title=title)
    usual = {
        "number": 1,
        "state": "current",
        "approved_reference": "Work instruction 30-102",
        "approved_revision": "3",
        "ata": "30-10",
        "consequence": "icing",
        "minutes": 90,
        "written_at": at(-300),
    }
    return ProcedureVersion.objects.create(procedure=procedure, content=content, **(usual | values))


@dataclass
class Workshop:
    """A house with procedures, rules, tools and a lot; people by role as actors."""

    house: House
    cylinder: Equipment
    voltmeter: Equipment
    lot: FluidLot
    keys: count[int] = field(default_factory=lambda: count(1))

    @property
    def aircraft(self) -> Aircraft:
        return self.house.aircraft

    @property
    def technician(self) -> Actor:
        return self.house.actor(Role.TECHNICIAN)

    @property
    def inspector(self) -> Actor:
        return self.house.actor(Role.INSPECTOR)

    def key(self) -> str:
        return f"key-{next(self.keys)}"

    def report(self, kind: str = "line-opened", when: datetime | None = None, **values: Any) -> Event:
        """Report an event, by default an opened line at NOON of DAY."""
        report = EventReport(self.aircraft.pk, kind, when or at(), self.key(), **values)
        return report_event(actor=self.technician, report=report).event

    def task(self, code: str) -> Task:
        """The newest task of a procedure."""
        return Task.objects.filter(aircraft=self.aircraft, procedure__code=code).latest("id")

    def open(self, code: str, when: datetime) -> BenchRun:
        """Open a run of the newest task of a procedure."""
        opening = Opening(self.task(code).pk, self.key(), when)
        return open_run(actor=self.technician, opening=opening)[0]

    def answer(self, run: BenchRun, step: str, answer: Mapping[str, Any], **values: Any) -> None:
        """Answer one step a minute after the run began."""
        entry = Entry(step, self.key(), answer, run.started_at + timedelta(minutes=1), **values)
        answer_step(actor=self.technician, run_id=run.pk, entry=entry)

    def provide(self, run: BenchRun) -> None:
        """Name tools and lot of a flow test."""
        for role, equipment in (("cylinder", self.cylinder), ("voltmeter", self.voltmeter)):
            use_equipment(actor=self.technician, run_id=run.pk, role=role, equipment_id=equipment.pk)
        use_lot(actor=self.technician, run_id=run.pk, lot_id=self.lot.pk, amount="22.0", unit="L")

    def fill_flow_test(
        self, run: BenchRun, left: str = "1500", right: str = "1510", volts: str = "28.1"
    ) -> None:
        """Answer every step of a flow test."""
        self.provide(run)
        photo = NewPhoto("picture", self.key(), PNG, run.started_at + timedelta(minutes=1))
        add_photo(actor=self.technician, run_id=run.pk, new=photo)
        for step, answer in flow_answers(run, left, right, volts).items():
            self.answer(run, step, answer)
        self.answer(run, "picture", {"photo_key": photo.key})

    def finish(self, run: BenchRun) -> BenchRun:
        """Finish an hour after the run began."""
        at_end = run.started_at + timedelta(hours=1)
        return finish_run(actor=self.technician, run_id=run.pk, at=at_end)

    def sign(
        self, run: BenchRun, meaning: str = "performed", actor: Actor | None = None
    ) -> SignedRecord | None:
        """Sign what the run's content is now."""
        run.refresh_from_db()
        who = actor or (self.technician if meaning == "performed" else self.inspector)
        digest = content_of_run(run).digest
        return sign(actor=who, signing=Signing(run.pk, meaning, digest, "password"))[1]

    def do_purge(self, when: datetime) -> SignedRecord:
        """A purge from opening to its sealed record."""
        run = self.open("panel-purge", when)
        self.answer(run, "open", {"done": True})
        self.answer(run, "pump", {"runs": pump_runs(run.started_at, 8, 12, 9)})
        record = self.sign(self.finish(run))
        assert record is not None
        return record

    def flow_test(
        self, when: datetime, left: str = "1500", right: str = "1510", volts: str = "28.1"
    ) -> BenchRun:
        """A flow test worked and finished, not signed."""
        run = self.open("panel-flow-test", when)
        self.fill_flow_test(run, left, right, volts)
        return self.finish(run)

    def do_flow_test(self, when: datetime, *readings: str) -> SignedRecord:
        """A flow test from opening to its sealed record, signed by two people."""
        run = self.flow_test(when, *readings)
        self.sign(run)
        record = self.sign(run, "inspected")
        assert record is not None
        return record


def flow_answers(run: BenchRun, left: str, right: str, volts: str) -> dict[str, dict[str, Any]]:
    """Every step of the flow test but the photograph; the timed run takes exactly 240 s."""
    start = run.started_at
    wet = [
        {"position": code, "wet": True, "seconds": "45"} for code in ("outlet-wing-left", "outlet-wing-right")
    ]
    sides = {
        side: {"method": "volume", "value": value, "unit": "mL"}
        for side, value in (("left", left), ("right", right))
    }
    return {
        "clear": {"acknowledged": True},
        "power": {"done": True},
        "voltage": {"value": volts, "unit": "V"},
        "wet": {"outlets": wet},
        "run": {
            "started_at": start.isoformat(),
            "stopped_at": (start + timedelta(seconds=240)).isoformat(),
        },
        "collect": {"sides": sides},
    }


def pump_runs(start: datetime, *seconds: int) -> list[dict[str, str]]:
    """Seconds on, off, on…: `pump_runs(start, 8, 12, 9)` is two runs with 12 s of rest between."""
    moments = [start]
    for each in seconds:
        moments.append(moments[-1] + timedelta(seconds=each))
    return [
        {"on_at": moments[i].isoformat(), "off_at": moments[i + 1].isoformat()}
        for i in range(0, len(seconds), 2)
    ]


def make_workshop(**aircraft: Any) -> Workshop:
    """A whole workshop; the keywords go to the aircraft."""
    house = make_house(**aircraft)
    for order, (code, name, change, restarts) in enumerate(KINDS):
        EventKind.objects.create(
            operator=house.operator,
            code=code,
            name=name,
            change=change,
            restarts_baseline=restarts,
            component_kinds=["porous-panel"] if change == "replace" else [],
            needs_position=change == "replace",
            order=order,
        )
    make_procedure(house, "panel-purge", PURGE)
    make_procedure(house, "panel-flow-test", FLOW_TEST, needs_countersignature=True)
    for code in ("panel-replaced", "line-opened", "flow-test-failed"):
        make_rule(house, code)
    fit(house.aircraft, "panel-left")
    operator, base = house.operator, house.base
    cylinder = EquipmentMaker(operator=operator, base=base)
    voltmeter = EquipmentMaker(operator=operator, base=base, kind="voltmeter", name="Voltmeter", unit="V")
    return Workshop(house, cylinder, voltmeter, FluidLotMaker(operator=operator, base=base))


def make_rule(house: House, kind: str) -> TriggerRule:
    """Purge, then flow test, after an event of this kind."""
    return TriggerRule.objects.create(
        operator=house.operator,
        code=f"after-{kind}",
        event_kind=EventKind.objects.get(operator=house.operator, code=kind),
        title="Purge and test",
        content=AFTER_PANEL,
        source="programme 30-10",
        written_at=at(-300),
    )
