"""The pages of components and their printable labels."""

from __future__ import annotations

import pytest

from fleet.common.actor import Role
from fleet.models import LifeLimit, Overhaul
from tests.makers import browser_of, fit, make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    return make_house()


def test_a_component_shows_its_times_and_its_life(house):
    fitted = fit(house.aircraft, "pump", serial_number="PU-7")
    LifeLimit.objects.create(
        operator=house.operator,
        kind=fitted.component.kind,
        parameter="landings",
        limit=99999,
        source="CMM 30-11",
    )
    text = browser_of(house.person(Role.AUDITOR)).get(f"/components/{fitted.component_id}/").content.decode()
    assert "Since fitted" in text
    assert "life left" in text
    assert "CMM 30-11" in text


def test_components_are_found_by_number_kind_and_place(house):
    pump, tank = (
        fit(house.aircraft, "pump", serial_number="PU-7"),
        fit(house.aircraft, "tank", serial_number="TA-1"),
    )
    page = browser_of(house.person(Role.TECHNICIAN))
    by_number = page.get("/components/?q=PU-7").content.decode()
    assert pump.component.serial_number in by_number
    assert tank.component.serial_number not in by_number
    assert "No component fits" in page.get("/components/?where=store").content.decode()
    assert "TA-1" in page.get(f"/components/?where={house.aircraft.registration}").content.decode()


def test_twice_the_components_cost_no_more_queries(house, django_assert_max_num_queries):
    for number, place in enumerate(("pump", "tank", "filter", "panel-left", "panel-right")):
        fit(house.aircraft, place, serial_number=f"S-{number}")
    page = browser_of(house.person(Role.CONTROLLER))
    with django_assert_max_num_queries(12):
        assert page.get("/components/").status_code == 200


def test_label_sheets_are_pdf(house):
    fit(house.aircraft, "pump")
    page = browser_of(house.person(Role.CONTROLLER))
    for address in ("/components/labels.pdf", "/aircraft-labels.pdf"):
        answer = page.get(address)
        assert answer.content.startswith(b"%PDF-")
        assert answer["Content-Type"] == "application/pdf"


def test_an_overhaul_is_entered_by_those_who_may(house):
    part = fit(house.aircraft, "pump").component
    entry = {"done_on": "2026-01-02", "release_document": "F1-88"}
    assert browser_of(house.person(Role.TECHNICIAN)).post(f"/components/{part.pk}/", entry).status_code == 403
    assert not Overhaul.objects.exists()
    assert browser_of(house.person(Role.DIRECTOR)).post(f"/components/{part.pk}/", entry).status_code == 302
    assert Overhaul.objects.get().release_document == "F1-88"


def test_another_operators_component_is_not_found(house):
    stranger = make_house()
    part = fit(stranger.aircraft, "pump").component
    assert browser_of(house.person(Role.CONTROLLER)).get(f"/components/{part.pk}/").status_code == 404
