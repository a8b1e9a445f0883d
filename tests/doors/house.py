"""A whole small operator with at least one of everything an address can name, and its neighbour.

`make_scene()` builds both; the present is `PRESENT` while they stand. Words with `OURS` in them (and the names in
`marks`) belong to the operator: whoever works for the neighbour must never read one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import Any

from django.core.files.base import ContentFile

from fleet.common.actor import Role
from fleet.models import (
    Aircraft,
    Authorisation,
    Certificate,
    FlightUpload,
    ImportBatch,
    LifeLimit,
    Membership,
    Meter,
    Passkey,
    User,
)
from fleet.services.meters import NewFlight, post_flight
from fleet.services.people import create_token
from records.models import Photo
from records.services.runs import pause_run
from scheduling.models import (
    Bay,
    Event,
    FlyingPlan,
    GroundTime,
    Procedure,
    ProcedureVersion,
    Reminder,
    ReminderLadder,
    SavedView,
    Shift,
    TriggerRule,
    VariationTable,
    WebhookEndpoint,
    WeekPlan,
)
from scheduling.services.calendar_links import create_link
from scheduling.services.due import refresh_due
from scheduling.services.plans import open_draft
from scheduling.services.slot_moves import SlotMove, move_slot
from scheduling.services.tasks import WantedTask, raise_task
from scheduling.services.variations import Grant, grant_variation
from tests.makers import (
    FAR_OFF,
    NOON,
    AircraftMaker,
    ComponentMaker,
    EquipmentMaker,
    FluidLotMaker,
    House,
    InstallationMaker,
    at,
    fit,
    make_house,
)
from tests.records.makers import PNG, PURGE, Workshop, make_workshop, pump_runs
from tests.scheduling.due.makers import apply, make_requirement
from tests.scheduling.makers import make_relief

PRESENT = at(6)
"""Sunday noon, the day before the week that is planned."""
MONDAY = date(2025, 3, 10)
BANDS = [{"measure": "hours", "up_to": "1000:00", "percent": "10", "cap": "10:00"}]
LADDER = {"days": [30, 7], "hours": [], "to": ["controller"], "overdue_to": ["director"]}


@dataclass
class Scene:
    """Everything by name, the neighbour who may see none of it, and the words that would give it away."""

    shop: Workshop
    neighbour: House
    stranger: User
    things: dict[str, Any] = field(default_factory=dict)
    marks: frozenset[str] = frozenset()
    calendar_key: str = ""

    @property
    def house(self) -> House:
        return self.shop.house

    @property
    def aircraft(self) -> Aircraft:
        return self.shop.aircraft

    def person(self, role: Role | str) -> User:
        return self.house.person(role)

    def key(self, name: str) -> int:
        """The primary key of one of the things."""
        return int(self.things[name].pk)


def make_scene() -> Scene:
    """Both operators; to be called while the clock stands at PRESENT."""
    shop = make_workshop(registration="QX-OURS")
    neighbour = make_house(registration="QX-NEXT")
    stranger = neighbour.person(Role.ADMINISTRATOR)
    for role in Role:
        Membership.objects.get_or_create(
            user=stranger, operator=neighbour.operator, role=role, defaults={"base": neighbour.base}
        )
    for role, person in shop.house.people.items():
        person.username, person.last_name = f"ours-{role}", "OURS"
        person.save()
    scene = Scene(shop, neighbour, stranger)
    for furnish in (_work, _store, _papers, _programme, _week, _messages):
        furnish(scene)
    refresh_due([scene.aircraft.pk])
    scene.marks = _marks(scene)
    return scene


def _second(scene: Scene, registration: str) -> Workshop:
    """The same workshop at another aircraft."""
    house = scene.house
    other: Aircraft = AircraftMaker(
        operator=house.operator, base=house.base, aircraft_type=house.aircraft_type, registration=registration
    )
    fit(other, "panel-left")
    return replace(scene.shop, house=replace(house, aircraft=other))


def _work(scene: Scene) -> None:
    """A sealed record with its trend, a run to sign, one under way and one paused; a task nobody has."""
    shop, things = scene.shop, scene.things
    things["event"] = shop.report("line-opened", at(), photo=ContentFile(PNG, "ours.png"))
    shop.do_purge(at(hours=1))
    things["record"] = shop.do_flow_test(at(hours=3))
    finished = _second(scene, "QX-OURT")
    finished.report("line-opened", at(1))
    finished.do_purge(at(1, 1))
    things["run_to_sign"] = finished.flow_test(at(1, 3))
    things["photo"] = Photo.objects.filter(run=things["run_to_sign"]).latest("id")
    worked = _second(scene, "QX-OURU")
    worked.report("line-opened", at(2))
    worked.do_purge(at(2, 1))
    things["run"] = worked.open("panel-flow-test", at(2, 3))
    things["event_without_work"] = Event.objects.latest("id")
    paused = _second(scene, "QX-OURV")
    paused.report("line-opened", at(3))
    things["run_paused"] = paused.open("panel-purge", at(3, 1))
    pause_run(actor=shop.technician, run_id=things["run_paused"].pk)
    answered = _second(scene, "QX-OURW")
    answered.report("line-opened", at(4))
    run = things["run_answered"] = answered.open("panel-purge", at(4, 1))
    answered.answer(run, "open", {"done": True})
    answered.answer(run, "pump", {"runs": pump_runs(run.started_at, 8, 12, 9)})
    wanted = WantedTask(scene.aircraft.pk, "panel-purge", "OURS purge", "OURS because it is due")
    things["task"] = raise_task(actor=scene.house.actor(Role.CONTROLLER), wanted=wanted)[0]


def _store(scene: Scene) -> None:
    """Parts, tools, lots, flights and what belongs to them."""
    house, things = scene.house, scene.things
    operator, base = house.operator, house.base
    pump = house.position("pump")
    part = {"operator": operator, "kind": pump.kind}
    things["component"] = ComponentMaker(**part, part_number="OURS-30-110", serial_number="OURS-C1")
    things["removed"] = InstallationMaker(
        aircraft=scene.aircraft,
        position=pump,
        component=ComponentMaker(**part, serial_number="OURS-C2"),
        fitted_at=at(-100),
        removed_at=at(-1),
        removed_minutes=60_000,
        removed_landings=1_200,
        removed_cycles=1_200,
    )
    things["limit"] = LifeLimit.objects.create(
        operator=operator, kind=pump.kind, parameter="months", limit=120, source="OURS manual 3"
    )
    things["lot_received"] = FluidLotMaker(
        operator=operator, base=base, state="received", batch="OURS-B1", supplier="OURS Chemicals"
    )
    things["equipment"] = EquipmentMaker(operator=operator, base=base, code="ours-eq", name="OURS cylinder")
    flight = NewFlight(scene.aircraft.pk, at(5), 60, 1, 1, "OURS-F1")
    things["flight"] = post_flight(actor=house.actor(Role.CONTROLLER), flight=flight)[0]
    things["meter"] = Meter.objects.get(aircraft=scene.aircraft, kind="minutes")
    things["batch"] = ImportBatch.objects.create(
        operator=operator,
        filename="OURS-log.csv",
        digest="ab" * 32,
        rows=1,
        imported=1,
        repeated=0,
        left_out=0,
        imported_at=NOON,
        imported_by=house.person(Role.CONTROLLER),
    )
    things["upload"] = FlightUpload.objects.create(
        operator=operator,
        file=ContentFile(b"reg,date,minutes\nQX-OURS,2025-03-05,30\n", "ours.csv"),
        filename="OURS-upload.csv",
        uploaded_at=NOON,
        uploaded_by=house.person(Role.CONTROLLER),
    )


def _papers(scene: Scene) -> None:
    """Keys, certificates and authorisations."""
    things, house = scene.things, scene.house
    technician = house.person(Role.TECHNICIAN)
    things["authorisation"] = Authorisation.objects.create(
        user=technician,
        operator=house.operator,
        act="release",
        reference="OURS-AUTH",
        valid_from=date(2024, 1, 1),
        valid_to=FAR_OFF,
        granted_by=house.person(Role.DIRECTOR),
    )
    things["certificate"] = Certificate.objects.filter(user=technician).latest("id")
    things["passkey"] = Passkey.objects.create(
        user=house.person(Role.CONTROLLER),
        label="OURS phone",
        credential_id="ours-credential",
        public_key="key",
        created_at=NOON,
    )
    things["token"] = create_token(actor=house.actor(Role.CONTROLLER), label="OURS tablet")[0]


def _programme(scene: Scene) -> None:
    """Requirements, items, variations, relief, drafts of procedures, a rule that is off."""
    things, house = scene.things, scene.house
    operator, director = house.operator, house.person(Role.DIRECTOR)
    things["table"] = VariationTable.objects.create(
        operator=operator, name="OURS bands", bands=BANDS, source="OURS manual", approval="OURS approval"
    )
    hundred = make_requirement(operator, "ours-check", title="OURS check", variation_table=things["table"])
    things["requirement"] = hundred
    things["item"] = apply(hundred, scene.aircraft, day=date(2025, 3, 1), hours=59_000)
    other = make_requirement(operator, "ours-other", title="OURS other", variation_table=things["table"])
    varied = apply(other, scene.aircraft, day=date(2025, 3, 1), hours=59_000)
    purge = Procedure.objects.get(operator=operator, code="panel-purge")
    late = make_requirement(operator, "ours-late", title="OURS late", procedure=purge)
    apply(late, Aircraft.objects.get(registration="QX-OURT"), day=date(2024, 1, 1), hours=50_000)
    refresh_due()
    things["variation"] = grant_variation(
        actor=house.actor(Role.DIRECTOR), grant=Grant(varied.pk, "2:00", "OURS reason")
    )
    things["relief"] = make_relief(scene.aircraft, director, item="OURS-30-1")
    things["flying_plan"] = FlyingPlan.objects.create(
        aircraft=scene.aircraft,
        from_day=date(2025, 4, 1),
        to_day=date(2025, 4, 30),
        minutes_per_day=120,
        landings_per_day="2",
        note="OURS spring",
    )
    things["view"] = SavedView.objects.create(
        operator=operator, owner=director, name="OURS view", is_shared=True
    )
    drafted = Procedure.objects.create(operator=operator, code="ours-drafted", title="OURS drafted")
    usual: dict[str, Any] = {
        "procedure": drafted,
        "content": PURGE,
        "approved_reference": "OURS 30-1",
        "approved_revision": "1",
        "ata": "30-10",
        "consequence": "icing",
        "minutes": 30,
        "written_at": NOON,
    }
    ProcedureVersion.objects.create(**usual, number=1, state="current")
    ProcedureVersion.objects.create(**usual, number=2, state="draft", change_note="OURS change")
    things["rule_off"] = TriggerRule.objects.create(
        operator=operator,
        code="ours-off",
        event_kind=TriggerRule.objects.get(code="after-line-opened").event_kind,
        title="OURS rule",
        content=TriggerRule.objects.get(code="after-line-opened").content,
        source="OURS",
        is_enabled=False,
        written_at=NOON,
    )


def wall(day: int, hour: int) -> datetime:
    """A moment of the planned week at the base, which keeps UTC."""
    return datetime.combine(MONDAY, time(hour), NOON.tzinfo) + timedelta(days=day)


def _week(scene: Scene) -> None:
    """Bay, shifts, ground times; a draft with one slot, and the week after in force."""
    things, house = scene.things, scene.house
    base, controller = house.base, house.actor(Role.CONTROLLER)
    things["bay"] = Bay.objects.create(base=base, name="OURS bay")
    for day in range(4):
        things["shift"] = Shift.objects.create(
            base=base,
            person=house.person(Role.TECHNICIAN),
            starts_at=wall(day, 8),
            ends_at=wall(day, 16),
            note="OURS shift",
        )
    things["ground"] = GroundTime.objects.create(
        aircraft=scene.aircraft, base=base, starts_at=wall(0, 6), ends_at=wall(3, 18)
    )
    things["plan_published"] = WeekPlan.objects.create(
        operator=house.operator,
        base=base,
        monday=MONDAY + timedelta(days=7),
        state="published",
        asked_at=NOON,
        published_at=NOON,
    )
    plan = open_draft(actor=controller, base_id=base.pk, monday=MONDAY)
    move_slot(actor=controller, move=SlotMove(plan.pk, scene.key("task"), wall(1, 9)))
    plan.refresh_from_db()
    things["plan"] = plan


def _messages(scene: Scene) -> None:
    """Reminders, ladders, a calendar link, an endpoint."""
    things, house = scene.things, scene.house
    operator, controller = house.operator, house.person(Role.CONTROLLER)
    things["reminder"] = Reminder.objects.create(
        operator=operator,
        applicability=things["item"],
        recipient=controller,
        channel="product",
        rung="7 days",
        matter="ours-matter",
        key="ours-key",
        subject="OURS subject",
        words="OURS words",
        send_after=NOON,
        sent_at=NOON,
        written_at=NOON,
    )
    things["ladder"] = ReminderLadder.objects.create(operator=operator, consequence="icing", steps=LADDER)
    made = create_link(actor=house.actor(Role.CONTROLLER), label="OURS calendar")
    things["link"], scene.calendar_key = made.link, made.key
    things["endpoint"] = WebhookEndpoint.objects.create(
        operator=operator,
        url="https://sink.example/ours",
        secret="whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
        label="OURS room",
        created_at=NOON,
    )


def _marks(scene: Scene) -> frozenset[str]:
    """Words that only stand in what belongs to the operator."""
    own = [scene.house.base.code, scene.house.aircraft_type.code, scene.house.operator.code]
    records = [scene.things["record"].number]
    return frozenset({"OURS", "QX-OUR", "ours-", *own, *records})
