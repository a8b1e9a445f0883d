"""Two writers at the same moment: what PostgreSQL's own exclusions refuse, and what the services' locks prevent."""

import threading
from collections.abc import Callable
from typing import Any

import pytest
from django.db import Error, IntegrityError, connection

from fleet.common.errors import Refusal
from fleet.models import Installation
from fleet.services.configuration import Place, fit_component
from tests import makers
from tests.makers import at


def row(house: makers.House, position: str, component: Any, since: int, until: int) -> Installation:
    return Installation.objects.create(
        aircraft=house.aircraft,
        position=house.position(position),
        component=component,
        fitted_at=at(since),
        removed_at=at(until),
    )


def panel(house: makers.House) -> Any:
    return makers.ComponentMaker(operator=house.operator, kind=house.position("panel-left").kind)


def both(first: Callable[[], Any], second: Callable[[], Any]) -> list[str]:
    """Two writers that start together; what became of each."""
    start, outcomes = threading.Barrier(2), ["", ""]

    def run(number: int, act: Callable[[], Any]) -> None:
        try:
            start.wait(10)
            act()
            outcomes[number] = "done"
        except (Refusal, Error) as refusal:
            outcomes[number] = type(refusal).__name__
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate((first, second))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    return sorted(outcomes)


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_mechanics_fitting_one_component_at_once_leave_it_in_one_place() -> None:
    house = makers.make_house()
    actor, part = house.actor("technician"), panel(house)
    other = makers.AircraftMaker(operator=house.operator, base=house.base, aircraft_type=house.aircraft_type)
    places = [
        Place(aircraft.pk, house.position("panel-left").pk, at(-1)) for aircraft in (house.aircraft, other)
    ]

    outcomes = both(
        *(
            lambda place=place: fit_component(actor=actor, place=place, component_id=part.pk)
            for place in places
        )
    )

    assert outcomes == ["Invalid", "done"]
    assert Installation.objects.filter(component=part).count() == 1


@pytest.mark.postgres
@pytest.mark.django_db(transaction=True)
def test_two_bare_inserts_at_once_are_refused_by_the_database_itself() -> None:
    house = makers.make_house()
    part = panel(house)

    outcomes = both(
        lambda: row(house, "panel-left", part, -10, -5), lambda: row(house, "panel-right", part, -8, -3)
    )

    assert outcomes == ["IntegrityError", "done"]
    assert issubclass(IntegrityError, Error)
    assert Installation.objects.count() == 1
