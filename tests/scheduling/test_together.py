"""Two things at once on PostgreSQL: events of one aircraft are taken one after the other."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from functools import partial
from threading import Barrier
from typing import Any

import pytest
from django.db import close_old_connections, connection

from fleet.common.actor import Role, system_actor
from fleet.common.errors import Refusal
from fleet.models import Installation, Meter
from fleet.services.meters import NewFlight, post_flight
from scheduling.due.terms import Measure
from scheduling.due.use import Rate, Regularity
from scheduling.gather.use import rate_to_data
from scheduling.models import AircraftUse, DueFact, Event, Task, TaskCause, TaskWait
from scheduling.services.due_facts import reckon_aircraft
from scheduling.services.due_projected import project_anew
from scheduling.services.events import EventReport, Reported, report_event
from scheduling.services.tasks import WantedTask, raise_task, start_task
from tests.makers import NOON, at, make_house
from tests.scheduling.due.makers import apply, make_requirement
from tests.scheduling.makers import Workshop, make_workshop

STEADY = Rate({Measure.HOURS: 180_000}, {Measure.HOURS: 180_000}, None, 90, Regularity.REGULAR)
pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.postgres]


def at_once(*acts: Callable[[], Any]) -> list[Any]:
    """Run the acts in threads that begin together; a refusal is an answer like any other."""
    barrier = Barrier(len(acts))

    def run(act: Callable[[], Any]) -> Any:
        close_old_connections()
        try:
            barrier.wait(timeout=10)
            return act()
        except Refusal as refusal:
            return refusal
        finally:
            connection.close()

    with ThreadPoolExecutor(len(acts)) as pool:
        return [future.result(timeout=60) for future in [pool.submit(run, act) for act in acts]]


def reporting(workshop: Workshop, kind: str, key: str, **values: Any) -> Callable[[], Reported]:
    actor = workshop.house.actor(Role.TECHNICIAN)
    report = EventReport(workshop.aircraft.pk, kind, NOON, key, **values)
    return lambda: report_event(actor=actor, report=report)


def test_two_events_at_once_raise_one_purge_and_one_flow_test_that_name_both() -> None:
    workshop = make_workshop(rules=("panel-replaced", "line-opened"))
    spare = workshop.spare("panel-left").pk
    replaced, opened = at_once(
        reporting(workshop, "panel-replaced", "a", position_code="panel-left", component_on_id=spare),
        reporting(workshop, "line-opened", "b"),
    )
    assert sorted(len(each.raised) for each in (replaced, opened)) == [0, 2]
    assert (Task.objects.count(), TaskCause.objects.count(), TaskWait.objects.count()) == (2, 4, 1)


def test_one_event_sent_four_times_at_once_is_kept_once() -> None:
    workshop = make_workshop(rules=("line-opened",))
    answers = at_once(*[reporting(workshop, "line-opened", "same")] * 4)
    assert sorted(each.repeated for each in answers) == [False, True, True, True]
    assert (Event.objects.count(), Task.objects.count()) == (1, 2)


def test_two_panels_reported_into_one_position_at_once_leave_one_fitted() -> None:
    workshop = make_workshop()
    spares = [workshop.spare("panel-left").pk for _ in range(2)]
    answers = at_once(
        *[
            reporting(workshop, "panel-replaced", f"k{pk}", position_code="panel-left", component_on_id=pk)
            for pk in spares
        ]
    )
    assert sorted(isinstance(each, Refusal) for each in answers) == [False, True]
    assert Installation.objects.filter(position__code="panel-left", removed_at=None).count() == 1
    assert Event.objects.count() == 1


def test_the_same_work_wanted_twice_at_once_is_one_task() -> None:
    workshop = make_workshop()
    actor = workshop.house.actor(Role.CONTROLLER)

    def wanting(why: str) -> Callable[[], tuple[Task, bool]]:
        wanted = WantedTask(workshop.aircraft.pk, "panel-purge", "", why)
        return lambda: raise_task(actor=actor, wanted=wanted)

    answers = at_once(wanting("one"), wanting("two"))
    assert sorted(was_there for _, was_there in answers) == [False, True]
    assert (Task.objects.count(), TaskCause.objects.count()) == (1, 2)


def test_a_task_started_twice_at_once_is_started_once() -> None:
    workshop = make_workshop()
    purge, _ = workshop.replace_panel("first").raised
    actor = workshop.house.actor(Role.TECHNICIAN)
    at_once(*[lambda: start_task(actor=actor, task_id=purge.pk, at=at(hours=1))] * 3)
    purge.refresh_from_db()
    assert (purge.state, purge.version) == ("in_work", 2)


def test_flights_new_rates_and_a_full_reckoning_at_once_wait_for_each_other_and_agree_in_the_end() -> None:
    aircraft = make_house(minutes=65_500).aircraft
    operator, pk = aircraft.operator, aircraft.pk
    for number in range(30):
        limits = {"measure": "hours", "every": f"{100 + number}:00"}
        apply(make_requirement(operator, f"line-{number}", limits=limits), aircraft, hours=60_000)
    AircraftUse.objects.create(aircraft=aircraft, rate=rate_to_data(STEADY))
    reckon_aircraft([pk])
    actor = system_actor(operator.pk, "flights")

    def fly(pilot: int) -> None:
        for number in range(8):
            flight = NewFlight(
                pk, at(-1, hours=pilot) + timedelta(minutes=number), 30, 1, 1, f"{pilot}-{number}"
            )
            post_flight(actor=actor, flight=flight)

    def reckon() -> None:
        for _ in range(8):
            reckon_aircraft([pk])

    def follow_rates() -> None:
        for _ in range(8):
            AircraftUse.objects.filter(pk=pk).update(projected_on=None, measured_on=NOON.date())
            project_anew(operator.pk)

    at_once(partial(fly, 1), partial(fly, 2), reckon, reckon, follow_rates)
    kept = list(DueFact.objects.order_by("pk").values_list("due_minutes", "projected_day", "order_day"))
    reckon_aircraft([pk])
    assert kept == list(
        DueFact.objects.order_by("pk").values_list("due_minutes", "projected_day", "order_day")
    )
    assert Meter.objects.get(aircraft=aircraft, kind="minutes").value == 65_500 + 16 * 30
