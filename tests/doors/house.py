"""Builds the scene: the operator's house, work on it, its week, its messages. `make_scene()`."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from django.core.files.base import ContentFile

from fleet.common.actor import Role
from fleet.models import Aircraft, Membership
from records.models import Photo
from records.services.runs import pause_run
from scheduling.models import (
    Bay,
    Event,
    GroundTime,
    Reminder,
    ReminderLadder,
    Shift,
    WebhookEndpoint,
    WeekPlan,
)
from scheduling.services.calendar_links import create_link
from scheduling.services.due import refresh_due
from scheduling.services.plans import open_draft
from scheduling.services.slot_moves import SlotMove, move_slot
from scheduling.services.tasks import WantedTask, raise_task
from tests.doors.programme import add_procedure, add_relief_and_views, add_requirements, add_rule
from tests.doors.scene import LADDER, MONDAY, Scene, wall
from tests.doors.stock import add_flights, add_papers, add_parts, add_store
from tests.makers import NOON, AircraftMaker, at, fit, make_house
from tests.records.makers import PNG, Workshop, make_workshop, pump_runs


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
    for name, is_enabled in (("endpoint", True), ("endpoint_off", False)):
        things[name] = WebhookEndpoint.objects.create(
            operator=operator,
            url=f"https://sink.example/ours-{name}",
            secret="whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw",
            label="OURS room",
            created_at=NOON,
            is_enabled=is_enabled,
        )


def _marks(scene: Scene) -> frozenset[str]:
    """Words that only stand in what belongs to the operator."""
    own = [scene.house.base.code, scene.house.aircraft_type.code, scene.house.operator.code]
    records = [scene.things["record"].number]
    return frozenset({"OURS", "QX-OUR", "ours-", *own, *records})


FURNISHING = (
    _work,
    add_parts,
    add_store,
    add_flights,
    add_papers,
    add_requirements,
    add_relief_and_views,
    add_procedure,
    add_rule,
    _week,
    _messages,
)


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
    for furnish in FURNISHING:
        furnish(scene)
    refresh_due([scene.aircraft.pk])
    scene.marks = _marks(scene)
    return scene
