"""The pages of flights, flight files, meters, bases, types, the register, life limits and signing in."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from fleet.common.actor import Role
from fleet.models import (
    Aircraft,
    AircraftType,
    Base,
    FlightEntry,
    FlightUpload,
    Installation,
    LifeLimit,
    Meter,
    Position,
    Reading,
    TrailEntry,
    Uplift,
)
from fleet.screens import flight_files
from tests import makers
from tests.makers import PASSWORD, at, browser_of

pytestmark = pytest.mark.django_db

C, T, D, A, ADM = Role.CONTROLLER, Role.TECHNICIAN, Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(registration="QX-SKA")


def page_of(house: makers.House, role: Role = C) -> Client:
    return browser_of(house.person(role))


# ---------------------------------------------------------------- who reads, who may not

PAGES = [
    *("/flights/", "/flights/?aircraft=QX-SKA&since=2025-01-01&until=nonsense", "/flights/files/"),
    *("/aircraft/QX-SKA/meters/", "/house/", "/house/types/{type}/", "/components/life-limits/"),
]
FORMS = {
    "/flights/new/": {C, T, D},
    "/meters/{meter}/": {C, T, D},
    "/house/bases/new/": {C, D, ADM},
    "/house/bases/{base}/": {C, D, ADM},
    "/house/kinds/new/": {C, D, ADM},
    "/house/types/new/": {C, D, ADM},
    "/house/types/{type}/positions/new/": {C, D, ADM},
    "/house/types/{type}/positions/tank/": {C, D, ADM},
    "/house/aircraft/new/": {C, D, ADM},
    "/house/aircraft/QX-SKA/": {C, D, ADM},
    "/stock/uplifts/new/": {C, T, D},
    "/installations/{installation}/disposition/": {C, T, D, Role.INSPECTOR},
}
COMMANDS: dict[str, tuple[dict[str, Any], set[Role]]] = {
    "/flights/new/": (
        {
            "aircraft": "{aircraft}",
            "off_at": "2025-03-01T09:00",
            "minutes": "1:00",
            "landings": 1,
            "cycles": 1,
        }
        | {"reference": "L1"},
        {C, T, D},
    ),
    "/flights/{flight}/void/": ({"reason": "wrong"}, {C, D}),
    "/meters/{meter}/": ({"at": "2025-03-05T09:00", "value": "1100:00", "reason": ""}, {C, T, D}),
    "/house/types/{type}/options/": ({"option-code": "floats", "option-name": "Floats"}, {C, D, ADM}),
    "/house/types/new/": ({"code": "dovekie", "name": "Dovekie"}, {C, D, ADM}),
    "/house/kinds/new/": ({"code": "valve", "name": "Valve", "ata": "30"}, {C, D, ADM}),
    "/components/life-limits/": (
        {"kind_code": "fluid-pump", "parameter": "months", "limit": "120", "source": "manual"},
        {C, D, ADM},
    ),
    "/components/life-limits/{limit}/drop/": ({"reason": "superseded"}, {C, D, ADM}),
    "/installations/{installation}/disposition/": ({"method": "tag", "words": ""}, {C, T, D, Role.INSPECTOR}),
    "/components/{spare}/scrap/": ({"reason": "cracked"}, {C, D, ADM}),
    "/stock/uplifts/new/": (
        {
            "lot_id": "{lot}",
            "aircraft_id": "{aircraft}",
            "at": "2025-03-01T09:00",
            "amount": "20",
            "unit": "L",
        },
        {C, T, D},
    ),
}


def furnish(house: makers.House) -> dict[str, Any]:
    """One of everything the addresses speak of."""
    position = house.position("pump")
    installation = makers.InstallationMaker(
        aircraft=house.aircraft, position=position, removed_at=at(1), removed_minutes=60_000
    )
    limit = LifeLimit.objects.create(
        operator=house.operator, kind=position.kind, parameter="minutes", limit=60, source="manual"
    )
    client = page_of(house)
    client.post(
        "/flights/new/", {**COMMANDS["/flights/new/"][0], "aircraft": house.aircraft.pk, "reference": "L0"}
    )
    return {
        "type": house.aircraft_type.code,
        "base": house.base.code,
        "aircraft": house.aircraft.pk,
        "meter": Meter.objects.get(aircraft=house.aircraft, kind="minutes").pk,
        "installation": installation.pk,
        "limit": limit.pk,
        "flight": FlightEntry.objects.get().pk,
        "lot": makers.FluidLotMaker(operator=house.operator, base=house.base).pk,
        "spare": makers.ComponentMaker(operator=house.operator, kind=position.kind).pk,
    }


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


# ---------------------------------------------------------------- signing in


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


# ---------------------------------------------------------------- flights and meters


def test_a_flight_is_posted_shown_and_taken_back_with_a_reason(house: makers.House) -> None:
    client = page_of(house)
    sent = {**COMMANDS["/flights/new/"][0], "aircraft": house.aircraft.pk, "minutes": "1.5"}

    client.post("/flights/new/", sent)
    entry = FlightEntry.objects.get()
    assert (entry.minutes, entry.off_at.isoformat()) == (90, "2025-03-01T09:00:00+00:00")
    assert "1:30" in client.get("/flights/").content.decode()
    client.post(f"/flights/{entry.pk}/void/", {"reason": "wrong aircraft"})

    assert "wrong aircraft" in client.get("/flights/?aircraft=QX-SKA").content.decode()
    assert Meter.objects.get(aircraft=house.aircraft, kind="minutes").value == 60_000


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"minutes": "0:00"}, "a flight lasts at least a minute"),
        ({"minutes": "1.33"}, "not a whole number of minutes"),
        ({"off_at": "2099-01-01T00:00"}, "lies in the future"),
        ({"reference": ""}, "Nothing was entered"),
    ],
)
def test_a_flight_that_cannot_be_stands_in_the_form_again(
    house: makers.House, change: dict[str, str], words: str
) -> None:
    sent = {**COMMANDS["/flights/new/"][0], "aircraft": house.aircraft.pk, **change}

    answer = page_of(house).post("/flights/new/", sent)

    assert words in answer.content.decode()
    assert FlightEntry.objects.count() == 0


def test_a_reading_below_what_is_known_needs_a_reason_and_becomes_a_correction(house: makers.House) -> None:
    client, meter = page_of(house), Meter.objects.get(aircraft=house.aircraft, kind="minutes")
    sent = {"at": "2025-03-05T09:00", "value": "999:00", "reason": ""}

    refused = client.post(f"/meters/{meter.pk}/", sent)
    assert refused.status_code == 422
    assert "below what is known" in refused.content.decode()
    client.post(f"/meters/{meter.pk}/", {**sent, "reason": "read off the wrong clock"})

    assert (Reading.objects.latest("id").kind, Reading.objects.latest("id").value) == ("correction", 59_940)
    assert "read off the wrong clock" in client.get("/aircraft/QX-SKA/meters/").content.decode()


# ---------------------------------------------------------------- flight files

TWO = "reg,date,minutes\nQX-SKA,2025-03-01,30\nQX-SKA,2025-03-02,40\n"
ONE_BAD = TWO + "QX-???,2025-03-02,40\n"


def bring(client: Client, text: str, name: str = "log.csv") -> Any:
    return client.post("/flights/files/", {"file": SimpleUploadedFile(name, text.encode(), "text/csv")})


def test_a_file_is_brought_looked_through_and_imported(house: makers.House) -> None:
    client = page_of(house)
    address = bring(client, TWO)["Location"]
    words = client.get(address).content.decode()
    assert "Every row makes sense" in words
    assert FlightEntry.objects.count() == 0

    client.post(f"{address}import/")

    assert FlightEntry.objects.count() == 2
    words = client.get(address).content.decode().replace("\xa0", " ")
    assert "2 flights imported" in words
    again = bring(client, TWO)["Location"]
    assert "Nothing new" in client.get(again).content.decode()


def test_bad_rows_are_shown_with_what_to_do_and_left_out_only_when_ticked(house: makers.House) -> None:
    client = page_of(house)
    address = bring(client, ONE_BAD)["Location"]
    words = client.get(address).content.decode()
    assert "QX-???" in words
    assert "put the aircraft on the register first" in words

    client.post(f"{address}import/", HTTP_REFERER=address)
    assert FlightEntry.objects.count() == 0
    client.post(f"{address}import/", {"leave_out_bad_rows": "yes"})
    assert FlightEntry.objects.count() == 2


def test_columns_are_chosen_where_they_cannot_be_guessed(house: makers.House) -> None:
    client = page_of(house)
    address = bring(client, "who,when,long\nQX-SKA,2025-03-01,30\n")["Location"]
    assert "registration: has no column" in client.get(address).content.decode()

    chosen = {"registration": "who", "date": "when", "duration": "long", "numbers": "minutes", "zone": "utc"}
    client.post(f"{address}columns/", chosen)
    client.post(f"{address}import/")

    assert FlightEntry.objects.get().minutes == 30


def test_a_long_file_is_imported_in_the_background_and_its_page_follows(
    house: makers.House, monkeypatch: pytest.MonkeyPatch, django_capture_on_commit_callbacks: Any
) -> None:
    monkeypatch.setattr(flight_files, "ROWS_AT_ONCE", 1)
    client = page_of(house)
    address = bring(client, TWO)["Location"]

    with django_capture_on_commit_callbacks() as after:
        client.post(f"{address}import/")
    assert f'data-poll="{address}progress/"' in client.get(address).content.decode()
    assert FlightEntry.objects.count() == 0
    for callback in after:
        callback()

    piece = client.get(f"{address}progress/").content.decode()
    assert f'data-next="{address}"' in piece
    assert "data-poll" not in piece
    assert FlightEntry.objects.count() == 2


def test_a_file_that_is_no_flight_file_is_refused_beside_its_field(house: makers.House) -> None:
    client = page_of(house)

    empty = client.post("/flights/files/", {"file": SimpleUploadedFile("x.csv", b"", "text/csv")})
    binary = client.post(
        "/flights/files/", {"file": SimpleUploadedFile("x.csv", io.BytesIO(b"\xff\xfe\x00").read())}
    )

    assert "empty" in empty.content.decode()
    assert "UTF-8" in binary.content.decode()
    assert FlightUpload.objects.count() == 0


def test_an_auditor_brings_no_file_and_a_thrown_away_one_is_gone(house: makers.House) -> None:
    file = {"file": SimpleUploadedFile("log.csv", TWO.encode(), "text/csv")}
    assert page_of(house, A).post("/flights/files/", file).status_code == 403
    client = page_of(house)
    address = bring(client, TWO)["Location"]

    client.post(f"{address}forget/")

    assert (FlightUpload.objects.count(), client.get(address).status_code) == (0, 404)


# ---------------------------------------------------------------- the house

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
    assert "describe the method" in other.content.decode()
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
