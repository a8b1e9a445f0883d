"""The pages of bases, types, the register, life limits and signing in; who may use which."""

from __future__ import annotations

from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.common.actor import Role
from fleet.models import (
    Aircraft,
    AircraftType,
    Base,
    Installation,
    Meter,
    Position,
    TrailEntry,
    Uplift,
)
from tests import makers
from tests.fleet.screens.places import ADM, COMMANDS, FORMS, PAGES, C, D, T, furnish, page_of
from tests.makers import PASSWORD, browser_of

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(registration="QX-SKA")


@pytest.mark.parametrize("role", Role)
def test_every_role_reads_and_forms_open_only_for_those_who_may_use_them(
    house: makers.House, role: Role
) -> None:
    keys, client = furnish(house), page_of(house, role)

    for place in PAGES:
        assert (client.get(place.format(**keys)).status_code, place) == (200, place)
    for place, roles in FORMS.items():
        wanted = 200 if role in roles else 403
        assert (client.get(place.format(**keys)).status_code, place) == (wanted, place)


@pytest.mark.parametrize("role", Role)
def test_a_refused_button_changes_nothing(house: makers.House, role: Role) -> None:
    keys, client = furnish(house), page_of(house, role)
    for place, (body, roles) in COMMANDS.items():
        filled = {name: str(value).format(**keys) for name, value in body.items()}
        before = TrailEntry.objects.count()

        answer = client.post(place.format(**keys), filled)

        wanted = (302, before + 1) if role in roles else (403, before)
        assert (answer.status_code, TrailEntry.objects.count(), place) == (*wanted, place)


def test_strangers_find_nothing_and_nobody_is_sent_to_sign_in(house: makers.House) -> None:
    keys = furnish(house)
    stranger = page_of(makers.make_house(), D)
    own = {"/flights/", "/flights/files/", "/house/", "/components/life-limits/", "/flights/new/"} | {
        *("/house/bases/new/", "/house/kinds/new/", "/house/types/new/", "/house/aircraft/new/"),
        "/stock/uplifts/new/",
    }
    for place in [*PAGES, *FORMS]:
        address = place.format(**keys)
        assert browser_of().get(address)["Location"].startswith("/sign-in/?next=")
        assert (stranger.get(address).status_code, place) == (200 if place in own else 404, place)


def sign_in(client: Client, name: str, password: str) -> Any:
    return client.post("/sign-in/?next=/house/", {"username": name, "password": password})


def test_a_person_signs_in_goes_where_they_wanted_and_out_again(house: makers.House) -> None:
    client, name = Client(), house.person(C).username

    assert sign_in(client, name, PASSWORD)["Location"] == "/house/"
    assert client.get("/house/").status_code == 200
    assert client.post("/sign-out/")["Location"] == "/sign-in/"
    assert client.get("/house/").status_code == 302


def test_too_many_wrong_passwords_lock_the_door_and_say_for_how_long(house: makers.House) -> None:
    client, name = Client(), house.person(C).username

    wrong = sign_in(client, name, "guess")
    assert "Name or password is not right" in wrong.content.decode()
    answers = [sign_in(client, name, "guess").status_code for _ in range(4)]
    right = sign_in(client, name, PASSWORD)

    assert (answers, right.status_code, right["Retry-After"]) == ([200, 200, 200, 429], 429, "900")
    words = right.content.decode()
    assert "locked for 15 minutes" in words
    assert "ask your administrator" in words
    assert sign_in(Client(), house.person(D).username, PASSWORD).status_code == 302


BASE = {
    "code": "tarn-bay",
    "name": "Tarn Bay",
    "zone": "Europe/London",
    "season_start_month": "10",
    "season_start_day": "15",
    "season_end_month": "4",
    "season_end_day": "15",
    "digest_at": "06:30",
    "day_starts_at": "00:00",
    "quiet_from": "21:00",
    "quiet_to": "06:00",
}


def test_a_base_is_opened_and_changed_and_a_stale_copy_is_refused(house: makers.House) -> None:
    client = page_of(house, ADM)
    client.post("/house/bases/new/", BASE)
    base = Base.objects.get(code="tarn-bay")
    assert (base.season_start_month, base.season_start_day, base.zone) == (10, 15, "Europe/London")
    assert "15 Oct to 15 Apr" in client.get("/house/").content.decode()

    client.post("/house/bases/tarn-bay/", {**BASE, "name": "Tarn Bay North", "version": 1})
    stale = client.post("/house/bases/tarn-bay/", {**BASE, "name": "Lost", "version": 1})

    base.refresh_from_db()
    assert (base.name, base.version, stale.status_code) == ("Tarn Bay North", 2, 412)
    half = client.post("/house/bases/new/", {**BASE, "code": "hallin", "season_end_day": ""})
    assert "Enter month and day, or neither" in half.content.decode()


def test_a_type_gets_options_and_positions(house: makers.House) -> None:
    client = page_of(house, ADM)
    client.post("/house/types/new/", {"code": "dovekie-19", "name": "Dovekie 19"})
    client.post("/house/types/dovekie-19/options/", {"option-code": "belly-pod", "option-name": "Belly pod"})
    position = {"code": "pod", "name": "Pod panel", "kind_code": "porous-panel", "side": "left", "order": "1"}
    client.post("/house/types/dovekie-19/positions/new/", {**position, "needs_option": "belly-pod"})
    client.post("/house/types/dovekie-19/positions/pod/", {**position, "name": "Pod", "version": 3})

    row = Position.objects.get(code="pod")
    assert (row.name, row.needs_option, row.side) == ("Pod", None, "left")
    assert AircraftType.objects.get(code="dovekie-19").version == 4
    assert client.get("/house/types/dovekie-19/positions/none/").status_code == 404


def test_an_aircraft_is_registered_with_its_meters_and_changed(house: makers.House) -> None:
    client = page_of(house)
    sent = {
        "registration": "qx-skb",
        "serial_number": "2",
        "type_code": house.aircraft_type.code,
        "base_code": house.base.code,
        "option_codes": ["belly-pod"],
        "opening_at": "2024-01-01T00:00",
        "minutes": "1304:30",
        "landings": "1402",
        "cycles": "1402",
    }
    assert client.post("/house/aircraft/new/", sent)["Location"] == "/aircraft/QX-SKB/meters/"
    made = Aircraft.objects.get(registration="QX-SKB")
    assert Meter.objects.get(aircraft=made, kind="minutes").value == 78_270

    client.post("/house/aircraft/QX-SKB/", {**sent, "note": "hangar 2", "option_codes": [], "version": 1})

    made.refresh_from_db()
    assert (made.note, made.options.count(), made.version) == ("hangar 2", 0, 2)
    taken = client.post("/house/aircraft/new/", {**sent, "registration": "QX-SKA"})
    assert (taken.status_code, "on the register already" in taken.content.decode()) == (409, True)


def test_fluid_that_went_into_an_aircraft_stands_on_its_lot(house: makers.House) -> None:
    keys, client = furnish(house), page_of(house, T)
    sent = {name: str(value).format(**keys) for name, value in COMMANDS["/stock/uplifts/new/"][0].items()}

    client.post("/stock/uplifts/new/", {**sent, "unit": "US gal", "amount": "20.8"})

    assert str(Uplift.objects.get().volume_ml) == "78736.565107"
    assert "20.8 US gal" in client.get(f"/stock/lots/{keys['lot']}/").content.decode()


def test_a_removed_life_limited_part_is_listed_until_it_has_a_disposition(house: makers.House) -> None:
    keys, client = furnish(house), page_of(house, T)
    row = Installation.objects.get(pk=keys["installation"])
    assert row.component.serial_number in client.get("/components/life-limits/").content.decode()

    other = client.post(f"/installations/{row.pk}/disposition/", {"method": "other", "words": ""})
    assert "Describe the method" in other.content.decode()
    client.post(f"/installations/{row.pk}/disposition/", {"method": "segregation", "words": "red locker"})

    assert "without a disposition" not in client.get("/components/life-limits/").content.decode()
    assert "red locker" in client.get(f"/components/{row.component_id}/").content.decode()


def test_pages_cost_the_same_with_ten_rows_and_with_twenty(house: makers.House) -> None:
    client = page_of(house)

    def more(count: int, start: int) -> None:
        for number in range(start, start + count):
            aircraft = makers.AircraftMaker(
                operator=house.operator, base=house.base, aircraft_type=house.aircraft_type
            )
            makers.FlightMaker(aircraft=aircraft, reference=f"R{number}")
            makers.BaseMaker(operator=house.operator)
            makers.TypeMaker(operator=house.operator)

    def costs() -> list[int]:
        found = []
        for place in ("/flights/", "/house/", "/flights/files/", "/components/life-limits/"):
            with CaptureQueriesContext(connection) as queries:
                assert client.get(place).status_code == 200
            found.append(len(queries))
        return found

    more(10, 0)
    ten = costs()
    more(10, 10)
    assert costs() == ten
    assert max(ten) <= 20
