"""The pages of people, stock, one's own account and the trail: what they do, and for whom they do nothing."""

from __future__ import annotations

import pytest

from fleet.common.actor import Role
from fleet.models import (
    ApiToken,
    Authorisation,
    Calibration,
    Equipment,
    FluidLot,
    TrailEntry,
    User,
)
from tests.makers import EquipmentMaker, FluidLotMaker, api_of, browser_of, make_house

pytestmark = pytest.mark.django_db

LOT = {
    "specification": "Glycol fluid",
    "batch": "ZZ-1",
    "supplier": "Somebody",
    "received_on": "2026-01-05",
    "expires_on": "2036-01-05",
    "quantity": "200",
    "unit": "L",
    "density_source": "sheet 1",
    "densities": "0 1.11\n20 1.098",
}


@pytest.fixture
def house():
    return make_house()


@pytest.mark.parametrize("role", list(Role))
@pytest.mark.parametrize("address", ["/people/", "/stock/", "/stock/?view=equipment", "/account/", "/trail/"])
def test_every_role_may_read(house, role, address):
    assert browser_of(house.person(role)).get(address).status_code == 200


@pytest.mark.parametrize("address", ["/people/", "/stock/", "/account/", "/trail/"])
def test_nobody_reads_without_signing_in(house, address):
    answer = browser_of().get(address)
    assert answer.status_code == 302
    assert answer["Location"].startswith("/sign-in/")


def test_a_lot_is_received_then_approved(house):
    page = browser_of(house.person(Role.CONTROLLER))
    answer = page.post("/stock/lots/new/", {**LOT, "base": house.base.pk})
    lot = FluidLot.objects.get(batch="ZZ-1")
    assert answer["Location"] == f"/stock/lots/{lot.pk}/"
    assert (lot.state, lot.quantity_ml, lot.density_points.count()) == ("received", 200000, 2)
    page.post(f"/stock/lots/{lot.pk}/", {"state": "approved", "reason": ""})
    lot.refresh_from_db()
    assert lot.state == "approved"


def test_quarantine_needs_a_reason(house):
    lot = FluidLotMaker(operator=house.operator, base=house.base)
    answer = browser_of(house.person(Role.CONTROLLER)).post(
        f"/stock/lots/{lot.pk}/", {"state": "quarantined", "reason": ""}
    )
    lot.refresh_from_db()
    assert answer.status_code == 422
    assert "Say why the lot is quarantined" in answer.content.decode()
    assert lot.state != "quarantined"


def test_a_density_line_that_is_no_pair_is_named(house):
    answer = browser_of(house.person(Role.CONTROLLER)).post(
        "/stock/lots/new/", {**LOT, "base": house.base.pk, "densities": "20"}
    )
    assert "Line 1" in answer.content.decode()
    assert not FluidLot.objects.filter(batch="ZZ-1").exists()


def test_a_calibration_is_entered_and_one_that_ends_before_it_begins_is_not(house):
    tool = EquipmentMaker(operator=house.operator, base=house.base)
    page = browser_of(house.person(Role.CONTROLLER))
    before = Calibration.objects.filter(equipment=tool).count()
    entry = {"done_on": "2026-01-10", "due_on": "2026-01-09", "certificate": "K-77", "laboratory": ""}
    assert page.post(f"/stock/equipment/{tool.pk}/", entry).status_code == 422
    assert Calibration.objects.filter(equipment=tool).count() == before
    assert page.post(f"/stock/equipment/{tool.pk}/", {**entry, "due_on": "2027-01-10"}).status_code == 302
    assert Calibration.objects.filter(equipment=tool, certificate="K-77").count() == 1


WRITERS = {Role.CONTROLLER, Role.DIRECTOR, Role.ADMINISTRATOR}


@pytest.mark.parametrize("role", sorted(set(Role) - WRITERS))
def test_others_change_no_stock(house, role):
    lot = FluidLotMaker(operator=house.operator, base=house.base)
    tool = EquipmentMaker(operator=house.operator, base=house.base)
    page = browser_of(house.person(role))
    answers = [
        page.post("/stock/lots/new/", {**LOT, "base": house.base.pk}),
        page.post(f"/stock/lots/{lot.pk}/", {"state": "used_up", "reason": "x"}),
        page.post(f"/stock/equipment/{tool.pk}/withdraw/"),
    ]
    assert [answer.status_code for answer in answers] == [403, 403, 403]
    assert TrailEntry.objects.count() == 0
    assert Equipment.objects.get(pk=tool.pk).withdrawn_on is None


def test_another_operators_lot_is_not_found(house):
    stranger = make_house()
    lot = FluidLotMaker(operator=stranger.operator, base=stranger.base)
    assert browser_of(house.person(Role.CONTROLLER)).get(f"/stock/lots/{lot.pk}/").status_code == 404


def test_a_new_person_gets_a_one_time_password_shown_once(house):
    page = browser_of(house.person(Role.ADMINISTRATOR))
    entry = {
        "username": "newt",
        "first_name": "New",
        "last_name": "Teal",
        "email": "",
        "roles": ["technician"],
    }
    answer = page.post("/people/new/", {**entry, "base": house.base.pk})
    person = User.objects.get(username="newt")
    shown = page.get(answer["Location"]).content.decode()
    assert "shown only now" in shown
    assert "shown only now" not in page.get(answer["Location"]).content.decode()
    assert person.must_change_password
    assert person.memberships.get().role == "technician"


def test_a_one_time_password_leads_only_to_choosing_ones_own(house):
    person = house.person(Role.TECHNICIAN)
    person.set_password("given-by-somebody")
    person.must_change_password = True
    person.save()
    page = browser_of(person)
    assert page.get("/")["Location"] == "/account/password/"
    assert api_of(person).get("/api/v1/board/").status_code == 403
    entry = {"old_password": "given-by-somebody", "new_password": "skerry-ice-lantern"}
    assert page.post("/account/password/", entry).status_code == 302
    assert page.get("/").status_code == 200


def test_the_last_administrator_stays_administrator(house):
    person = house.person(Role.ADMINISTRATOR)
    answer = browser_of(person).post(f"/people/{person.pk}/roles/", {"roles": ["auditor"], "base": ""})
    assert answer.status_code == 409
    assert person.memberships.get().role == "administrator"


def test_nobody_authorises_themselves(house):
    person = house.person(Role.DIRECTOR)
    before = Authorisation.objects.count()
    entry = {"act": "inspect", "ata_chapters": "30", "aircraft_type": "", "reference": "A-1",
             "valid_from": "2026-01-01", "valid_to": "2030-01-01"}  # fmt: skip
    answer = browser_of(person).post(f"/people/{person.pk}/authorise/", entry)
    assert answer.status_code == 403
    assert Authorisation.objects.count() == before


def test_the_director_grants_and_revokes(house):
    technician = house.person(Role.TECHNICIAN)
    page = browser_of(house.person(Role.DIRECTOR))
    entry = {"act": "perform", "ata_chapters": "30, 05", "aircraft_type": "", "reference": "A-9",
             "valid_from": "2026-01-01", "valid_to": "2036-01-01"}  # fmt: skip
    assert page.post(f"/people/{technician.pk}/authorise/", entry).status_code == 302
    row = Authorisation.objects.get(reference="A-9")
    assert row.ata_chapters == ["30", "05"]
    page.post(f"/authorisations/{row.pk}/revoke/")
    row.refresh_from_db()
    assert row.revoked_on is not None


def test_a_key_is_shown_once_works_and_ends_when_revoked(house):
    person = house.person(Role.CONTROLLER)
    page = browser_of(person)
    page.post("/account/", {"label": "spreadsheet"})
    text = page.get("/account/").content.decode()
    key = text.split('<code class="figures">')[1].split("</code>")[0]
    program = api_of()
    assert program.get("/api/v1/board/", HTTP_AUTHORIZATION=f"Token {key}").status_code == 200
    page.post(f"/account/keys/{ApiToken.objects.get().pk}/revoke/")
    assert program.get("/api/v1/board/", HTTP_AUTHORIZATION=f"Token {key}").status_code == 401
