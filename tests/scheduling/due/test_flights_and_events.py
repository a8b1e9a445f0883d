"""A flight and an event move what is due in their own transaction, to what a full reckoning would say."""

from __future__ import annotations

import io
import random
from datetime import date, timedelta
from typing import Any

import pytest
from django.test import Client

from fleet.common.actor import Role
from fleet.common.clock import now
from fleet.models import FlightEntry, Meter
from fleet.services.flight_import import FlightFileInput, import_flight_file
from fleet.services.following import CountersMoved
from fleet.services.meters import (
    NewFlight,
    NewReading,
    correct_reading,
    post_flight,
    post_reading,
    void_flight,
)
from scheduling.models import AircraftUse, Applicability, DueFact, Event, EventKind, FlyingPlan
from scheduling.selectors.due import moved_since_reckoned
from scheduling.selectors.due_item import explain_due
from scheduling.services.after_event import follow_event
from scheduling.services.due import heal_due, refresh_due, refresh_moved
from scheduling.services.due_facts import CHUNK, reckon_aircraft, reckon_items
from scheduling.services.due_projected import project_anew
from scheduling.services.flights import keep_in_step
from tests.makers import AircraftMaker, House, api_of, at, fit, make_house
from tests.scheduling.due.makers import (
    HUNDRED_HOURS,
    TWELVE_MONTHS,
    apply,
    first_of,
    last_of,
    make_requirement,
)

pytestmark = pytest.mark.django_db
LANDINGS = {"measure": "landings", "every": 300}
CYCLES = {"measure": "cycles", "every": 250}


@pytest.fixture
def house() -> House:
    return make_house(minutes=65_500)


def columns() -> list[dict[str, Any]]:
    skipped = ("computed_at",)
    return [
        {name: value for name, value in row.items() if name not in skipped}
        for row in DueFact.objects.order_by("pk").values()
    ]


def fly(house: House, number: int, minutes: int, days: int = 0) -> None:
    flight = NewFlight(
        house.aircraft.pk, now() - timedelta(days=days, minutes=number), minutes, 2, 3, f"F{number}"
    )
    post_flight(actor=house.actor("controller"), flight=flight)


def test_after_every_flight_the_columns_are_those_of_a_full_reckoning(house: House) -> None:
    dice = random.Random(11)
    shapes = [
        HUNDRED_HOURS,
        LANDINGS,
        CYCLES,
        first_of(HUNDRED_HOURS, TWELVE_MONTHS),
        first_of(HUNDRED_HOURS, LANDINGS, CYCLES),
        last_of(HUNDRED_HOURS, TWELVE_MONTHS),
        first_of(HUNDRED_HOURS, last_of(LANDINGS, TWELVE_MONTHS)),
    ]
    for number in range(42):
        row = make_requirement(house.operator, f"item-{number}", limits=shapes[number % len(shapes)])
        known = {} if number % 11 == 5 else {"day": now().date() - timedelta(days=dice.randint(0, 380))}
        if known:
            known |= {"hours": 65_500 - dice.randint(0, 6_100), "landings": 1_200 - dice.randint(0, 310)}
            known |= {"cycles": 1_200 - dice.randint(0, 260)} if number % 5 else {}
        apply(row, house.aircraft, **known)
    for number in range(100, 130):
        fly(house, number, 90, days=number - 99)
    FlyingPlan.objects.create(
        aircraft=house.aircraft, from_day=now().date() + timedelta(days=3), to_day=now().date() + timedelta(days=9),
        minutes_per_day=0, landings_per_day=0,
    )  # fmt: skip
    refresh_due()
    for number in range(12):
        fly(house, number, dice.randint(5, 400))
        quick = columns()
        assert moved_since_reckoned([house.aircraft.pk]) == []
        reckon_aircraft([house.aircraft.pk])
        assert quick == columns()


def test_rates_measured_anew_move_the_days_and_how_items_stand_stays(house: House) -> None:
    shapes = [
        HUNDRED_HOURS,
        LANDINGS,
        first_of(HUNDRED_HOURS, TWELVE_MONTHS),
        last_of(HUNDRED_HOURS, TWELVE_MONTHS),
    ]
    for number in range(12):
        row = make_requirement(house.operator, f"item-{number}", limits=shapes[number % len(shapes)])
        done = now().date() - timedelta(days=20 * number)
        apply(row, house.aircraft, day=done, hours=65_500 - 500 * number, landings=1_200 - 20 * number)
    for number in range(40):
        fly(house, number, 60, days=number + 1)
    heal_due(actor=house.actor("controller"))
    assert heal_due(actor=house.actor("controller")) == 0
    before = columns()
    use = AircraftUse.objects.get()
    use.rate["used"] = {name: amount * 2 for name, amount in use.rate["used"].items()}
    use.measured_on = now().date() + timedelta(days=1)
    use.save()
    assert project_anew(house.operator.pk) > 4
    assert project_anew(house.operator.pk) == 0
    after = columns()
    reckon_aircraft([house.aircraft.pk])
    assert after == columns() != before
    stands = ("soon_day", "unknown_day", "reached_day", "overdue_day")
    assert [[row[name] for name in stands] for row in after] == [
        [row[name] for name in stands] for row in before
    ]


def test_a_component_of_the_aircraft_moves_too(house: House) -> None:
    fitted = fit(house.aircraft, house.aircraft_type.positions.first().code)
    limits = {"measure": "hours", "every": "150:00"}
    row = make_requirement(house.operator, limits=limits, component_kind=fitted.component.kind)
    apply(row, fitted.component, day=date(2025, 3, 1), hours=0)
    refresh_due()
    # 65 500 - 60 000 flown since it was fitted; 9 000 - 5 500 = 3 500 left
    assert DueFact.objects.get().due_minutes == 69_000
    fly(house, 1, 600)
    fact = DueFact.objects.get()
    assert (fact.due_minutes, fact.reached_day) == (69_000, None)
    assert explain_due(house.actor("auditor"), fact.pk).limits[0].remaining == 2_900


def test_the_same_flight_twice_moves_nothing_twice(house: House) -> None:
    apply(make_requirement(house.operator), house.aircraft, day=date(2025, 3, 1), hours=60_000)
    refresh_due()
    for _ in range(2):
        flight = NewFlight(house.aircraft.pk, at(1), 60, 1, 1, "F1")
        post_flight(actor=house.actor("controller"), flight=flight)
    assert Meter.objects.get(aircraft=house.aircraft, kind="minutes").value == 65_560


def test_a_void_flight_takes_back_what_it_moved(house: House) -> None:
    apply(make_requirement(house.operator), house.aircraft, day=date(2025, 3, 1), hours=60_000)
    refresh_due()
    flight = NewFlight(house.aircraft.pk, at(1), 600, 1, 1, "F1")
    entry, _ = post_flight(actor=house.actor("controller"), flight=flight)
    assert DueFact.objects.get().overdue_day == 0
    void_flight(actor=house.actor("controller"), flight_id=entry.pk, reason="typed twice")
    assert DueFact.objects.get().overdue_day is None


def test_a_limit_since_an_event_runs_from_the_counters_of_that_moment(house: House) -> None:
    kind = EventKind.objects.create(operator=house.operator, code="lightning-strike", name="Lightning strike")
    limits = {"measure": "hours", "every": "10:00", "since": "event"}
    applied = apply(make_requirement(house.operator, limits=limits, event_kind=kind), house.aircraft)
    refresh_due()
    assert DueFact.objects.get().is_complete
    for number in (1, 2):
        flight = NewFlight(house.aircraft.pk, at(number), 100, 1, 1, f"F{number}")
        post_flight(actor=house.actor("controller"), flight=flight)
    event = Event.objects.create(
        aircraft=house.aircraft,
        kind=kind,
        at=at(1, hours=12),
        key="k",
        reported_by_name="x",
        reported_at=now(),
    )
    follow_event(event)
    fact = DueFact.objects.get(pk=applied.pk)
    # struck between the two flights at 65 600 minutes, due ten hours later
    assert (fact.is_complete, fact.due_minutes) == (False, 66_200)


def test_a_component_that_is_fitted_takes_on_its_programme(house: House) -> None:
    kind = EventKind.objects.create(operator=house.operator, code="panel-replaced", name="Panel replaced")
    fitted = fit(house.aircraft, house.aircraft_type.positions.first().code)
    limits = {"measure": "months", "every": 24, "since": "fitted"}
    make_requirement(house.operator, "panel-life", limits=limits, component_kind=fitted.component.kind)
    event = Event.objects.create(
        aircraft=house.aircraft, kind=kind, at=at(1), key="k", component_on=fitted.component,
        position=fitted.position, reported_by_name="x", reported_at=now(),
    )  # fmt: skip
    follow_event(event)
    assert Applicability.objects.get().component == fitted.component
    assert DueFact.objects.get().aircraft == house.aircraft


def in_step(house: House) -> bool:
    """Whether what is kept is what a full reckoning finds."""
    kept = columns()
    reckon_aircraft([house.aircraft.pk])
    return kept == columns()


def test_whichever_door_moves_the_counters_what_is_due_moves_at_once(house: House) -> None:
    apply(make_requirement(house.operator), house.aircraft, day=date(2025, 3, 1), hours=60_000)
    refresh_due()
    desk = Client()
    desk.force_login(house.people[Role.CONTROLLER])
    registration = house.aircraft.registration
    flown = {"off_at": "2025-03-01T09:00:00Z", "minutes": 300, "landings": 1, "cycles": 1, "reference": "F1"}

    api_of(house.people[Role.CONTROLLER]).post("/api/v1/flights/", flown | {"aircraft": registration}, "json")
    assert DueFact.objects.get().overdue_day is None
    assert moved_since_reckoned([house.aircraft.pk]) == []
    desk.post("/flights/new/", flown | {"aircraft": house.aircraft.pk, "minutes": "5:00", "reference": "F2"})
    assert DueFact.objects.get().overdue_day == 0

    desk.force_login(house.people[Role.DIRECTOR])
    desk.post(f"/flights/{FlightEntry.objects.get(reference='F2').pk}/void/", {"reason": "typed twice"})
    assert DueFact.objects.get().overdue_day is None
    bring(house, f"{registration},2025-03-01,12:00,300,1,F3\n")
    assert DueFact.objects.get().overdue_day == 0
    meter = Meter.objects.get(aircraft=house.aircraft, kind="minutes")
    down = NewReading(meter.pk, at(1), 65_000, "read wrongly")
    correct_reading(actor=house.actor("director"), reading=down)
    assert DueFact.objects.get().reached_day is None
    assert in_step(house)


def bring(house: House, lines: str) -> None:
    text = "registration,date,block_off,minutes,landings,reference\n" + lines
    import_flight_file(
        actor=house.actor("controller"), file=FlightFileInput("log.csv", io.BytesIO(text.encode()))
    )


def test_a_flight_from_before_an_event_moves_where_the_event_counts_from(house: House) -> None:
    kind = EventKind.objects.create(operator=house.operator, code="lightning-strike", name="Lightning strike")
    limits = {"measure": "hours", "every": "10:00", "since": "event"}
    apply(make_requirement(house.operator, limits=limits, event_kind=kind), house.aircraft)
    event = Event.objects.create(
        aircraft=house.aircraft, kind=kind, at=at(1, hours=12), key="k", reported_by_name="x", reported_at=now()
    )  # fmt: skip
    follow_event(event)
    assert DueFact.objects.get().due_minutes == 66_100
    post_flight(actor=house.actor("controller"), flight=NewFlight(house.aircraft.pk, at(1), 100, 1, 1, "F1"))
    assert DueFact.objects.get().due_minutes == 66_200
    assert in_step(house)


def test_a_flight_from_before_a_component_left_moves_it_where_it_sits_now(house: House) -> None:
    fitted = fit(house.aircraft, house.aircraft_type.positions.first().code)
    fitted.removed_at, fitted.removed_minutes = at(2), 65_500
    fitted.removed_landings, fitted.removed_cycles = fitted.fitted_landings, fitted.fitted_cycles
    fitted.save()
    limits = {"measure": "hours", "every": "150:00"}
    row = make_requirement(house.operator, limits=limits, component_kind=fitted.component.kind)
    done = apply(row, fitted.component, day=date(2025, 3, 1), hours=0)
    refresh_due()
    reckon_items(Applicability.objects.filter(pk=done.pk))
    before = explain_due(house.actor("auditor"), done.pk).limits[0].remaining
    DueFact.objects.update(title="stale")
    post_flight(actor=house.actor("controller"), flight=NewFlight(house.aircraft.pk, at(1), 100, 1, 1, "F1"))
    assert DueFact.objects.get().title == row.title
    assert explain_due(house.actor("auditor"), done.pk).limits[0].remaining == before - 100


def test_a_file_that_rewrites_a_whole_fleets_past_is_left_to_whoever_looks_next(house: House) -> None:
    apply(make_requirement(house.operator), house.aircraft, day=date(2025, 3, 1), hours=60_000)
    refresh_due()
    aircraft = [house.aircraft, *(AircraftMaker(operator=house.operator, base=house.base,
                aircraft_type=house.aircraft_type) for _ in range(CHUNK))]  # fmt: skip
    keep_in_step([CountersMoved(at(0), one.pk) for one in aircraft])
    assert house.aircraft.pk in moved_since_reckoned([house.aircraft.pk])
    assert refresh_moved(house.operator.pk) == 1
    assert moved_since_reckoned([house.aircraft.pk]) == []


def test_a_components_own_counter_moves_what_is_due_by_it(house: House) -> None:
    fitted = fit(house.aircraft, house.aircraft_type.positions.first().code)
    meter = Meter.objects.create(component=fitted.component, kind="uses", value=0)
    limits = {"measure": "uses", "every": 3}
    row = make_requirement(house.operator, limits=limits, component_kind=fitted.component.kind)
    apply(row, fitted.component, day=date(2025, 3, 1), uses=0)
    refresh_due()
    assert DueFact.objects.get().reached_day is None
    post_reading(actor=house.actor("controller"), reading=NewReading(meter.pk, at(1), 3))
    assert DueFact.objects.get().reached_day == 0
