"""The makers make things that hang together."""

import pytest

from fleet.common.actor import Role, Verb
from fleet.models import Installation, Operator, Reading
from fleet.selectors.meters import Counters, counters_at, counters_now
from tests import makers

pytestmark = pytest.mark.django_db


def test_a_house_has_one_person_per_role_and_an_aircraft_of_its_own_type():
    house = makers.make_house(option_codes=["second-pump"])

    assert set(house.people) == set(Role)
    assert house.actor("technician").may(Verb.PERFORM)
    assert house.aircraft.aircraft_type == house.aircraft_type
    assert list(house.aircraft.options.values_list("code", flat=True)) == ["second-pump"]
    assert house.aircraft.operator == house.base.operator == house.aircraft_type.operator


def test_an_aircraft_alone_belongs_to_the_operator_of_its_type_and_base():
    aircraft = makers.AircraftMaker()

    assert aircraft.operator == aircraft.base.operator == aircraft.aircraft_type.operator
    assert Operator.objects.count() == 1


def test_meters_open_at_what_was_asked_for():
    aircraft = makers.AircraftMaker(minutes=90, landings=2, cycles=3)

    assert counters_now([aircraft.pk]) == {aircraft.pk: Counters(90, 2, 3)}
    assert counters_at(aircraft.pk, makers.NOON) == Counters(90, 2, 3)
    assert Reading.objects.filter(meter__aircraft=aircraft).count() == 3


def test_a_fitted_component_is_of_the_kind_of_its_position():
    house = makers.make_house()
    makers.fit(house.aircraft, "pump")

    row = Installation.objects.get()
    assert row.component.kind == row.position.kind
    assert row.component.kind.code == "fluid-pump"


def test_stock_is_usable_as_made():
    lot, equipment = makers.FluidLotMaker(), makers.EquipmentMaker()

    assert lot.density_points.count() == 3
    assert equipment.calibrations.count() == 1
    assert makers.EquipmentMaker(calibrated=False).calibrations.count() == 0
    assert lot.base.operator == lot.operator
