"""Fitting, removing and overhauling a component move what is due in their own transaction."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from unittest.mock import patch

import pytest
from django.test import Client

from fleet.common.actor import Role
from fleet.common.errors import NotAllowed, NotFound
from fleet.models import Component, Installation
from fleet.services import following
from fleet.services.configuration import (
    Place,
    fit_component,
    record_overhaul,
    refit_component,
    remove_component,
    swap_component,
)
from fleet.services.following import CountersMoved
from scheduling.models import Applicability, DueFact, EventKind
from scheduling.services.due import refresh_due
from scheduling.services.due_facts import reckon_items
from scheduling.services.events import EventReport, report_event
from tests.makers import ComponentMaker, House, api_of, at, fit, make_house
from tests.scheduling.due.makers import apply, make_requirement

pytestmark = pytest.mark.django_db
SINCE_FITTED = {"measure": "months", "every": 24, "since": "fitted"}
SINCE_OVERHAUL = {"measure": "months", "every": 6, "since": "overhaul"}


@pytest.fixture
def house() -> House:
    return make_house(minutes=65_500)


@pytest.fixture
def fitted(house: House) -> Installation:
    """A component fitted half a year ago, with a life since fitting that is on the list."""
    row = fit(house.aircraft, house.aircraft_type.positions.first().code, manufactured_on=date(2020, 1, 1))
    line = make_requirement(house.operator, "life", limits=SINCE_FITTED, component_kind=row.component.kind)
    apply(line, row.component)
    refresh_due()
    assert DueFact.objects.get().aircraft == house.aircraft
    return row


def place_of(row: Installation, days: int = -1) -> Place:
    return Place(row.aircraft_id, row.position_id, at(days), "worn")


def is_in_step() -> bool:
    """Whether what is kept is what a full reckoning finds."""
    kept = _columns()
    reckon_items(Applicability.objects.all())
    return kept == _columns()


def _columns() -> list[dict[str, object]]:
    rows = DueFact.objects.order_by("pk").values()
    return [{name: value for name, value in row.items() if name != "computed_at"} for row in rows]


def test_a_component_that_is_removed_leaves_the_aircrafts_list_at_once(
    house: House, fitted: Installation
) -> None:
    remove_component(actor=house.actor("controller"), place=place_of(fitted))

    assert not DueFact.objects.filter(aircraft=house.aircraft).exists()
    assert is_in_step()


def test_a_component_that_is_fitted_stands_on_the_aircrafts_list_at_once(
    house: House, fitted: Installation
) -> None:
    actor = house.actor("controller")
    remove_component(actor=actor, place=place_of(fitted, -2))

    fit_component(actor=actor, place=place_of(fitted, -1), component_id=fitted.component_id)

    assert DueFact.objects.get().aircraft == house.aircraft
    assert DueFact.objects.get().due_day == date(2027, 3, 31).toordinal()
    assert is_in_step()


def test_a_component_that_is_put_back_is_reckoned_from_when_it_was(
    house: House, fitted: Installation
) -> None:
    before = DueFact.objects.get().due_day
    refit_component(actor=house.actor("controller"), place=place_of(fitted))

    assert DueFact.objects.get().due_day != before
    assert is_in_step()


def test_both_components_of_a_swap_are_in_step(house: House, fitted: Installation) -> None:
    other = spare(fitted)
    apply(Applicability.objects.get().requirement, other)

    swap_component(actor=house.actor("controller"), place=place_of(fitted), component_on_id=other.pk)

    assert DueFact.objects.get(aircraft=house.aircraft).applicability.component == other
    assert is_in_step()


def spare(like: Installation) -> Component:
    part: Component = ComponentMaker(
        operator=like.aircraft.operator, kind=like.component.kind, manufactured_on=date(2020, 1, 1)
    )
    return part


def test_an_overhaul_by_either_door_and_a_later_one_that_puts_it_right_move_what_is_due(
    house: House, fitted: Installation
) -> None:
    line = make_requirement(
        house.operator, "overhaul", limits=SINCE_OVERHAUL, component_kind=fitted.component.kind
    )
    item = apply(line, fitted.component)
    refresh_due()
    never = DueFact.objects.get(pk=item.pk).due_day
    desk = Client()
    desk.force_login(house.people[Role.DIRECTOR])
    key = fitted.component_id

    desk.post(f"/components/{key}/", {"done_on": "2025-01-10", "release_document": "F1-1"})
    first = DueFact.objects.get(pk=item.pk).due_day
    assert (first, first == never) == (date(2025, 7, 31).toordinal(), False)
    sent = {"done_on": "2025-02-10", "release_document": "F1-2"}
    answer = api_of(house.people[Role.DIRECTOR]).post(f"/api/v1/components/{key}/overhauls/", sent, "json")
    assert answer.status_code == 201

    assert DueFact.objects.get(pk=item.pk).due_day == date(2025, 8, 31).toordinal()
    assert is_in_step()


def test_the_overhaul_of_a_component_in_store_is_in_step_too(house: House, fitted: Installation) -> None:
    line = make_requirement(
        house.operator, "overhaul", limits=SINCE_OVERHAUL, component_kind=fitted.component.kind
    )
    part = spare(fitted)
    apply(line, part)

    record_overhaul(
        actor=house.actor("director"),
        component_id=part.pk,
        done_on=date(2025, 2, 10),
        release_document="F1-1",
    )

    assert DueFact.objects.filter(applicability__component=part).exists()
    assert is_in_step()


def test_followers_are_told_once_an_event_and_never_of_what_was_refused(
    house: House, fitted: Installation
) -> None:
    EventKind.objects.create(operator=house.operator, code="swapped", name="Swapped", change="replace")
    heard: list[CountersMoved] = []

    def listen(moves: Sequence[CountersMoved]) -> None:
        heard.extend(moves)

    report = EventReport(
        house.aircraft.pk, "swapped", at(-1), "k", fitted.position.code, component_on_id=spare(fitted).pk
    )
    place = place_of(fitted)
    with patch.object(following, "_followers", [listen]):
        with pytest.raises(NotAllowed):
            remove_component(actor=house.actor("auditor"), place=place)
        with pytest.raises(NotFound):
            swap_component(
                actor=house.actor("controller"), place=place, component_on_id=fitted.component_id + 10**6
            )
        assert heard == []
        report_event(actor=house.actor("controller"), report=report)

    assert heard == [CountersMoved(at(-1), house.aircraft.pk)]


def test_what_counts_from_a_removal_counts_for_the_component_that_left(
    house: House, fitted: Installation
) -> None:
    kind = EventKind.objects.create(
        operator=house.operator, code="taken-off", name="Taken off", change="remove", needs_position=True
    )
    limits = {"measure": "months", "every": 3, "since": "event"}
    line = make_requirement(
        house.operator, "store-check", limits=limits, event_kind=kind, component_kind=fitted.component.kind
    )
    item = apply(line, fitted.component)
    refresh_due()

    report = EventReport(house.aircraft.pk, kind.code, at(-1), "k", fitted.position.code)
    report_event(actor=house.actor("controller"), report=report)

    assert DueFact.objects.get(pk=item.pk).due_day == date(2025, 6, 30).toordinal()
    assert is_in_step()
