"""Flights, readings and corrections: the only ways a counter moves, and that what hangs on it moves along."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound
from fleet.models import FlightDay, FlightEntry, Installation, Meter, Overhaul, Reading, TrailEntry
from fleet.selectors.meters import Counters, component_times, counters_at, counters_now
from fleet.services.configuration import (
    Place,
    record_overhaul,
    refit_component,
    remove_component,
    swap_component,
)
from fleet.services.meters import (
    NewFlight,
    NewReading,
    correct_reading,
    post_flight,
    post_reading,
    void_flight,
)
from tests import makers
from tests.makers import at
from tests.words import plain

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(minutes=60_000, landings=1_200, cycles=1_200)


def fly(
    house: makers.House, off_at: datetime, minutes: int = 60, reference: str = "", **more: Any
) -> FlightEntry:
    aircraft = more.pop("aircraft", house.aircraft)
    entry, _ = post_flight(
        actor=house.actor("controller"),
        flight=NewFlight(
            aircraft.pk,
            off_at,
            minutes,
            more.get("landings", 1),
            more.get("cycles", 1),
            reference or str(off_at),
        ),
    )
    return entry


def now_of(house: makers.House) -> Counters:
    return counters_now([house.aircraft.pk])[house.aircraft.pk]


def meter(house: makers.House, kind: str = "minutes") -> Meter:
    return Meter.objects.get(aircraft=house.aircraft, kind=kind)


# ---------------------------------------------------------------- flights


def test_a_flight_moves_every_meter_and_the_sums_of_its_day(house: makers.House) -> None:
    fly(house, at(-2), 95, landings=3, cycles=2)

    assert now_of(house) == Counters(60_095, 1_203, 1_202)
    day = FlightDay.objects.get()
    assert (day.day, day.minutes, day.landings, day.cycles, day.flights) == (date(2025, 3, 1), 95, 3, 2, 1)
    assert plain(TrailEntry.objects.get().words) == "Flight of 1:35 h, 3 landings"


def test_the_day_of_a_flight_is_the_day_at_its_base(house: makers.House) -> None:
    house.base.zone = "Pacific/Auckland"
    house.base.save()

    assert fly(house, datetime(2025, 3, 1, 11, 30, tzinfo=UTC)).day == date(2025, 3, 2)


def test_the_same_reference_again_changes_nothing(house: makers.House) -> None:
    first = fly(house, at(-2), reference="L1")
    flight = NewFlight(house.aircraft.pk, at(-2), 60, 1, 1, "L1")

    again, repeated = post_flight(actor=house.actor("controller"), flight=flight)

    assert (again.pk, repeated) == (first.pk, True)
    assert now_of(house).minutes == 60_060
    assert TrailEntry.objects.count() == 1


def test_a_reference_of_another_flight_or_of_a_void_one_is_refused(house: makers.House) -> None:
    first = fly(house, at(-2), reference="L1")
    with pytest.raises(Conflict, match="another flight"):
        fly(house, at(-2), 61, reference="L1")
    void_flight(actor=house.actor("director"), flight_id=first.pk, reason="wrong aircraft")
    with pytest.raises(Conflict, match="void"):
        fly(house, at(-2), reference="L1")
    assert FlightEntry.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"minutes": 0}, "minutes"),
        ({"minutes": -5}, "minutes"),
        ({"minutes": 1_441}, "minutes"),
        ({"landings": -1}, "landings"),
        ({"cycles": 1_000}, "cycles"),
        ({"reference": "  "}, "reference"),
        ({"reference": "x" * 81}, "reference"),
        ({"off_at": datetime(2099, 1, 1, tzinfo=UTC)}, "off_at"),
    ],
)
def test_a_flight_that_cannot_be_is_refused_by_field_and_leaves_nothing(
    house: makers.House, change: dict[str, Any], field: str
) -> None:
    values = {"off_at": at(-2), "minutes": 60, "landings": 1, "cycles": 1, "reference": "L1"} | change

    with pytest.raises(Invalid) as refusal:
        post_flight(actor=house.actor("controller"), flight=NewFlight(house.aircraft.pk, **values))

    assert [reason.field for reason in refusal.value.reasons] == [field]
    assert all(reason.remedy for reason in refusal.value.reasons)
    assert FlightEntry.objects.count() == FlightDay.objects.count() == TrailEntry.objects.count() == 0
    assert now_of(house).minutes == 60_000


def test_a_withdrawn_aircraft_flew_only_until_its_last_day(house: makers.House) -> None:
    house.aircraft.withdrawn_on = date(2025, 3, 1)
    house.aircraft.save()

    assert fly(house, at(-2)).pk
    with pytest.raises(Invalid, match="withdrawn"):
        fly(house, at(-1))


def test_a_flight_from_before_the_last_reading_is_in_that_reading_already(house: makers.House) -> None:
    post_reading(actor=house.actor("technician"), reading=NewReading(meter(house).pk, at(-5), 60_500))

    fly(house, at(-6), 100)
    fly(house, at(-5), 100)
    fly(house, at(-4), 100)

    assert now_of(house).minutes == 60_600
    assert counters_at(house.aircraft.pk, makers.NOON) == now_of(house) == Counters(60_600, 1_203, 1_203)


def test_a_void_flight_leaves_the_counters_and_the_right_one_can_be_posted(house: makers.House) -> None:
    wrong = fly(house, at(-2), 600, reference="wrong")
    fly(house, at(-1), 30)

    void_flight(actor=house.actor("controller"), flight_id=wrong.pk, reason="typed 10 h for 1 h")
    fly(house, at(-2), 60, reference="right")

    assert now_of(house) == counters_at(house.aircraft.pk, makers.NOON) == Counters(60_090, 1_202, 1_202)
    assert list(FlightDay.objects.values_list("day", "minutes", "flights").order_by("day")) == [
        (date(2025, 3, 1), 60, 1),
        (date(2025, 3, 2), 30, 1),
    ]
    assert Reading.objects.filter(kind="correction").count() == 0
    assert meter(house).last_void_id == wrong.pk


def test_voiding_needs_a_reason_happens_once_and_only_by_those_who_correct(house: makers.House) -> None:
    entry = fly(house, at(-2))
    with pytest.raises(Invalid):
        void_flight(actor=house.actor("controller"), flight_id=entry.pk, reason=" ")
    with pytest.raises(NotAllowed):
        void_flight(actor=house.actor("technician"), flight_id=entry.pk, reason="no")
    with pytest.raises(NotFound):
        void_flight(actor=makers.make_house().actor("director"), flight_id=entry.pk, reason="not mine")
    void_flight(actor=house.actor("controller"), flight_id=entry.pk, reason="twice")
    with pytest.raises(Conflict):
        void_flight(actor=house.actor("controller"), flight_id=entry.pk, reason="twice")
    assert now_of(house).minutes == 60_000


def test_posting_a_flight_costs_the_same_however_many_there_are(house: makers.House) -> None:
    def cost(number: int) -> int:
        with CaptureQueriesContext(connection) as queries:
            fly(house, at(-1, minutes=number), 1)
        return len(queries)

    fly(house, at(-2))
    fly(house, at(-1))
    few = cost(1)
    for number in range(2, 12):
        fly(house, at(-1, minutes=number), 1)
    assert cost(12) == few <= 20


# ---------------------------------------------------------------- readings


def test_a_reading_below_what_is_known_is_refused_and_a_correction_is_not(house: makers.House) -> None:
    fly(house, at(-3), 60)
    reading = NewReading(meter(house).pk, at(-2), 60_059, "hobbs stuck")

    with pytest.raises(Invalid, match="below what is known"):
        post_reading(actor=house.actor("technician"), reading=reading)
    with pytest.raises(NotAllowed):
        correct_reading(actor=house.actor("technician"), reading=reading)
    correct_reading(actor=house.actor("controller"), reading=reading)

    assert now_of(house).minutes == 60_059
    assert meter(house).last_correction is not None


def test_a_correction_of_the_past_keeps_the_flights_since(house: makers.House) -> None:
    fly(house, at(-5), 100)
    fly(house, at(-1), 30)

    correct_reading(
        actor=house.actor("director"),
        reading=NewReading(meter(house).pk, at(-3), 60_050, "half of it was taxi"),
    )

    assert now_of(house).minutes == 60_080
    assert counters_at(house.aircraft.pk, at(-4)).minutes == 60_100


@pytest.mark.parametrize(
    ("days", "value", "words"),
    [(-8, 61_001, "above a later reading"), (-5, 61_000, "has a reading already"), (-1, -1, "out of range")],
)
def test_a_reading_that_contradicts_another_is_refused(
    house: makers.House, days: int, value: int, words: str
) -> None:
    post_reading(actor=house.actor("technician"), reading=NewReading(meter(house).pk, at(-5), 61_000))

    with pytest.raises(Invalid, match=words):
        post_reading(actor=house.actor("technician"), reading=NewReading(meter(house).pk, at(days), value))
    assert Reading.objects.filter(meter=meter(house)).count() == 2


def test_a_correction_says_why(house: makers.House) -> None:
    with pytest.raises(Invalid, match="reason"):
        correct_reading(actor=house.actor("director"), reading=NewReading(meter(house).pk, at(-1), 1, "  "))


def test_before_the_first_reading_counters_run_back_from_it(house: makers.House) -> None:
    fly(house, at(-370), 40)
    fly(house, at(-368), 20)

    assert counters_at(house.aircraft.pk, at(-369)).minutes == 59_980
    assert counters_at(house.aircraft.pk, at(-365)).minutes == 60_000
    assert now_of(house).minutes == 60_000


# ---------------------------------------------------------------- component times


def times(installation: Installation, days: int = 0) -> Any:
    return component_times(installation.component, at(days))


def test_times_follow_the_component_from_aircraft_to_aircraft(house: makers.House) -> None:
    """14 CFR 91.417(a)(2) and 43.10: what a part accumulated goes with the part."""
    other = makers.AircraftMaker(
        operator=house.operator, base=house.base, aircraft_type=house.aircraft_type, minutes=5_000
    )
    first = makers.fit(house.aircraft, "pump", opening_minutes=600, opening_landings=9)
    fly(house, at(-10), 120)
    actor, pump = house.actor("technician"), house.position("pump").pk
    remove_component(actor=actor, place=Place(house.aircraft.pk, pump, at(-9), "inspection"))
    fly(house, at(-8), 500)
    spare = makers.ComponentMaker(operator=house.operator, kind=house.position("pump").kind)
    swap_row = makers.InstallationMaker(
        aircraft=other,
        position=house.position("pump"),
        component=spare,
        fitted_at=at(-20),
        fitted_minutes=5_000,
    )
    swap_component(
        actor=actor, place=Place(other.pk, pump, at(-7), "swap"), component_on_id=first.component_id
    )
    fly(house, at(-6), 45, aircraft=other)

    after = times(first)

    assert after.since_new == Counters(600 + 120 + 45, 9 + 2, 2)
    assert after.since_fitted == Counters(45, 1, 1)
    assert component_times(swap_row.component, at()).since_fitted is None


def test_a_refitted_component_goes_on_since_new_and_starts_again_since_fitted(house: makers.House) -> None:
    row = makers.fit(house.aircraft, "tank")
    fly(house, at(-10), 120)

    refit_component(
        actor=house.actor("technician"),
        place=Place(house.aircraft.pk, house.position("tank").pk, at(-5), "out"),
    )
    fly(house, at(-4), 30)

    assert times(row).since_new.minutes == 150
    assert times(row).since_fitted.minutes == 30


def test_a_flight_entered_late_moves_only_the_times_it_belongs_to(house: makers.House) -> None:
    old = makers.fit(house.aircraft, "pump", fitted_at=at(-30))
    new = makers.ComponentMaker(operator=house.operator, kind=house.position("pump").kind)
    place = Place(house.aircraft.pk, house.position("pump").pk, at(-10), "worn")
    swap_component(actor=house.actor("technician"), place=place, component_on_id=new.pk)
    fly(house, at(-5), 30)

    late = fly(house, at(-20), 100)

    assert times(old).since_new.minutes == 100
    assert component_times(new, at()).since_new.minutes == 30
    void_flight(actor=house.actor("controller"), flight_id=late.pk, reason="was another aircraft")
    assert times(old).since_new.minutes == 0
    assert component_times(new, at()).since_fitted == Counters(30, 1, 1)


def test_a_correction_of_the_past_moves_the_counters_copied_into_later_installations(
    house: makers.House,
) -> None:
    row = makers.fit(house.aircraft, "pump", fitted_at=at(-30))
    fly(house, at(-20), 100)
    place = Place(house.aircraft.pk, house.position("pump").pk, at(-10), "worn")
    remove_component(actor=house.actor("technician"), place=place)

    correct_reading(
        actor=house.actor("director"), reading=NewReading(meter(house).pk, at(-15), 60_060, "40 min too many")
    )

    row.refresh_from_db()
    assert (row.fitted_minutes, row.removed_minutes) == (60_000, 60_060)
    assert times(row).since_new.minutes == 60


def test_time_since_overhaul_starts_at_the_day_of_the_overhaul_however_late_it_is_entered(
    house: makers.House,
) -> None:
    row = makers.fit(house.aircraft, "pump", fitted_at=at(-30), opening_minutes=1_000)
    fly(house, at(-20), 100)
    fly(house, at(-5), 30)

    overhaul = record_overhaul(
        actor=house.actor("controller"),
        component_id=row.component_id,
        done_on=at(-10).date(),
        release_document="F1-77",
    )

    assert overhaul.since_new_minutes == 1_100
    assert times(row).since_overhaul == Counters(30, 1, 1)
    assert times(row, -11).since_overhaul is None
    fly(house, at(-15), 7)
    assert times(row).since_overhaul == Counters(30, 1, 1)
    assert Overhaul.objects.get().since_new_minutes == 1_107


def test_the_day_fitted_is_the_day_at_the_base(house: makers.House) -> None:
    house.base.zone = "Pacific/Auckland"
    house.base.save()
    row = makers.fit(house.aircraft, "pump", fitted_at=datetime(2025, 3, 1, 11, 30, tzinfo=UTC))

    assert component_times(row.component, at()).fitted_on == date(2025, 3, 2)


@pytest.mark.parametrize("steps", [[0, 1, 2], [2, 1, 0], [1, 0, 2]])
def test_the_order_in_which_flights_are_entered_does_not_matter(
    house: makers.House, steps: list[int]
) -> None:
    row = makers.fit(house.aircraft, "pump", fitted_at=at(-30))
    moments = [at(-25), at(-12), at(-3)]
    place = Place(house.aircraft.pk, house.position("pump").pk, at(-10), "worn")
    fly(house, moments[steps[0]], 10 + steps[0])
    remove_component(actor=house.actor("technician"), place=place)
    for step in steps[1:]:
        fly(house, moments[step], 10 + step)

    assert times(row).since_new == Counters(21, 2, 2)
    assert now_of(house).minutes == 60_033
