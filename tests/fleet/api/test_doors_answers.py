"""What the fleet's API answers: shapes, versions, repeats, problems, pages; and what it costs."""

from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator

from fleet.common.actor import Role
from fleet.models import Aircraft, FlightEntry, FluidLot, Receipt, User
from records.services.provisions import use_lot
from tests import makers
from tests.makers import api_of, at
from tests.records.makers import make_workshop

pytestmark = pytest.mark.django_db


@pytest.fixture
def house() -> makers.House:
    return makers.make_house(registration="QX-SKA")


def controller(house: makers.House) -> Any:
    return api_of(house.person(Role.CONTROLLER))


def test_the_published_schema_has_no_warning() -> None:
    GENERATOR_STATS.reset()

    schema = SchemaGenerator().get_schema(request=None, public=True)

    places = [place for place in schema["paths"] if place.startswith("/api/v1/")]
    assert len(places) > 40
    assert dict(GENERATOR_STATS._warn_cache) == dict(GENERATOR_STATS._error_cache) == {}


def test_an_aircraft_is_registered_read_and_changed_by_version(house: makers.House) -> None:
    client = controller(house)
    sent = {
        "registration": "qx-skb",
        "serial_number": "P300-002",
        "aircraft_type": house.aircraft_type.code,
        "base": house.base.code,
        "options": ["belly-pod"],
        "opening_at": "2024-01-01T00:00:00Z",
        "opening_minutes": 78_270,
        "opening_landings": 1_402,
    }
    made = client.post("/api/v1/aircraft/", sent)
    assert (made.status_code, made["Location"]) == (201, "/api/v1/aircraft/QX-SKB/")
    assert made.json()["counters"] == {"minutes": 78_270, "landings": 1_402, "cycles": 0}

    changed = client.put("/api/v1/aircraft/QX-SKB/", {**sent, "note": "hangar 2"}, HTTP_IF_MATCH=made["ETag"])
    assert (changed.status_code, changed.json()["note"], changed.json()["version"]) == (200, "hangar 2", 2)
    again = client.put("/api/v1/aircraft/QX-SKB/", {**sent, "note": "late"}, HTTP_IF_MATCH=made["ETag"])
    assert (again.status_code, again.json()["code"]) == (412, "changed_meanwhile")
    assert Aircraft.objects.get(registration="QX-SKB").note == "hangar 2"


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"registration": "QX SKB"}, "#/registration"),
        ({"aircraft_type": "glider"}, "#/aircraft_type"),
        ({"base": "moon"}, "#/base"),
        ({"options": ["wings"]}, "#/options"),
        ({"opening_at": "2099-01-01T00:00:00Z"}, "#/opening_at"),
        ({"opening_minutes": -1}, "#/opening_minutes"),
        ({"serial_number": ""}, "#/serial_number"),
    ],
)
def test_a_register_entry_that_makes_no_sense_names_the_field(
    house: makers.House, change: dict[str, Any], pointer: str
) -> None:
    sent = {
        "registration": "QX-SKB",
        "serial_number": "2",
        "aircraft_type": house.aircraft_type.code,
        "base": house.base.code,
        "opening_at": "2024-01-01T00:00:00Z",
    }

    answer = controller(house).post("/api/v1/aircraft/", sent | change)

    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.json()["errors"]] == [pointer]
    assert Aircraft.objects.count() == 1


def test_an_aircraft_keeps_its_type_and_options_while_parts_need_them(house: makers.House) -> None:
    house.aircraft.options.add(house.aircraft_type.options.get(code="second-pump"))
    makers.fit(house.aircraft, "second-pump")
    other = makers.make_type(house.operator)
    sent = {
        "registration": "QX-SKA",
        "serial_number": "1",
        "aircraft_type": house.aircraft_type.code,
        "base": house.base.code,
        "options": ["second-pump"],
    }
    client = controller(house)

    def change(**values: Any) -> Any:
        return client.put("/api/v1/aircraft/QX-SKA/", sent | values, HTTP_IF_MATCH="*")

    assert (
        "cannot change while components sit in it"
        in change(aircraft_type=other.code, options=[]).json()["detail"]
    )
    assert "must stay" in change(options=[]).json()["detail"]
    assert change().status_code == 200


def test_a_type_is_described_and_its_position_changed(house: makers.House) -> None:
    client = controller(house)
    client.post("/api/v1/aircraft-types/", {"code": "dovekie-19", "name": "Dovekie 19"})
    client.post("/api/v1/aircraft-types/dovekie-19/options/", {"code": "belly-pod", "name": "Belly pod"})
    sent = {"code": "pod-panel", "name": "Pod panel", "kind": "porous-panel", "needs_option": "belly-pod"}
    made = client.post("/api/v1/aircraft-types/dovekie-19/positions/", sent)
    assert (made.status_code, made.json()["version"]) == (201, 3)

    place = "/api/v1/aircraft-types/dovekie-19/positions/pod-panel/"
    changed = client.put(place, sent | {"side": "left", "map_x": 40}, HTTP_IF_MATCH=made["ETag"])

    assert changed.json()["positions"][0] | {"side": "left", "map_x": 40} == changed.json()["positions"][0]
    for wrong, pointer in (
        ({"side": "top"}, "#/side"),
        ({"map_x": 101}, "#/map_x"),
        ({"kind": "x"}, "#/kind"),
    ):
        answer = client.put(place, sent | wrong, HTTP_IF_MATCH=changed["ETag"])
        assert answer.json()["errors"][0]["pointer"] == pointer
    taken = client.post("/api/v1/aircraft-types/dovekie-19/positions/", sent)
    assert (taken.status_code, taken.json()["code"]) == (409, "code_taken")


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"zone": "Mars/Olympus"}, "#/zone"),
        ({"zone": "../etc/passwd"}, "#/zone"),
        ({"season_start": {"month": 2, "day": 30}, "season_end": {"month": 4, "day": 1}}, "#/season_start"),
        ({"season_start": {"month": 10, "day": 1}}, "#/season_end"),
        ({"code": "Tarn Bay"}, "#/code"),
        ({"name": " "}, "#/name"),
    ],
)
def test_a_base_that_makes_no_sense_names_the_field(
    house: makers.House, change: dict[str, Any], pointer: str
) -> None:
    answer = controller(house).post(
        "/api/v1/bases/", {"code": "tarn-bay", "name": "Tarn Bay", "zone": "Europe/Oslo"} | change
    )

    assert (answer.status_code, answer.json()["errors"][0]["pointer"]) == (422, pointer)


def test_a_flight_sent_twice_with_one_key_counts_once(house: makers.House) -> None:
    client = controller(house)
    sent = {"aircraft": "qx-ska", "off_at": "2025-03-01T09:00:00Z", "minutes": 60, "reference": "L1"}

    first = client.post("/api/v1/flights/", sent, HTTP_IDEMPOTENCY_KEY="k1")
    again = client.post("/api/v1/flights/", sent, HTTP_IDEMPOTENCY_KEY="k1")
    other = client.post("/api/v1/flights/", sent | {"minutes": 61}, HTTP_IDEMPOTENCY_KEY="k1")
    without_key = client.post("/api/v1/flights/", sent)

    assert (first.status_code, again.status_code, again["Idempotent-Replay"]) == (201, 201, "true")
    assert again.json() == first.json()
    assert (other.status_code, other.json()["code"]) == (422, "key_reused")
    assert (without_key.status_code, FlightEntry.objects.count()) == (200, 1)
    (meter,) = [
        row
        for row in client.get("/api/v1/meters/?aircraft=QX-SKA").json()["results"]
        if row["kind"] == "minutes"
    ]
    assert (meter["value"], meter["as_of"]) == (60_060, "2025-03-01T09:00:00Z")


def test_a_refused_flight_says_what_to_do_and_keeps_no_receipt(house: makers.House) -> None:
    sent = {"aircraft": "QX-SKA", "off_at": "2025-03-01T09:00:00Z", "minutes": 0, "reference": "L1"}

    answer = controller(house).post("/api/v1/flights/", sent, HTTP_IDEMPOTENCY_KEY="k1")

    assert (answer.status_code, answer["Content-Type"]) == (422, "application/problem+json")
    assert answer.json()["errors"] == [
        {
            "detail": "a flight lasts at least a minute",
            "pointer": "#/minutes",
            "value": "0",
            "remedy": "enter 1 or more",
        }
    ]
    assert Receipt.objects.count() == 0


def test_a_field_in_the_wrong_form_is_named_with_what_was_sent_and_what_to_do(house: makers.House) -> None:
    sent = {"aircraft": "QX-SKA", "off_at": "yesterday", "minutes": None}

    answer = controller(house).post("/api/v1/flights/", sent, HTTP_IDEMPOTENCY_KEY="k1")

    found = {error.pop("pointer"): error for error in answer.json()["errors"]}
    assert found["#/reference"] == {"detail": "is missing", "remedy": "send it"}
    assert found["#/minutes"] == {"detail": "is null", "remedy": "send a value"}
    assert found["#/off_at"]["value"] == "yesterday"
    assert FlightEntry.objects.count() == 0


def test_a_password_is_never_said_back(house: makers.House) -> None:
    answer = controller(house).post("/api/v1/passkeys/options/", {"password": "x" * 201})

    assert answer.json()["errors"][0]["pointer"] == "#/password"
    assert "xxx" not in answer.content.decode()


def send_file(client: Any, text: str, **more: Any) -> Any:
    file = SimpleUploadedFile("log.csv", text.encode(), "text/csv")
    return client.post("/api/v1/flight-imports/", {"file": file, **more}, format="multipart")


def test_a_flight_file_is_looked_through_imported_and_repeated(house: makers.House) -> None:
    client, text = controller(house), "who,date,minutes\nQX-SKA,2025-03-01,30\nQX-NEW,2025-03-01,40\n"
    columns = '{"registration": "who"}'

    dry = send_file(client, text, dry_run="true", columns=columns)
    bad = send_file(client, text, columns=columns)
    codes = {"create_type": house.aircraft_type.code, "create_base": house.base.code}
    done = send_file(client, text, columns=columns, **codes)
    again = send_file(client, text, columns=columns)

    assert (dry.status_code, dry.json()["new"], dry.json()["bad"]) == (200, 1, 1)
    assert dry.json()["errors"][0]["remedy"] == "correct it, or put the aircraft on the register first"
    assert (bad.status_code, bad.json()["code"]) == (422, "flight_file_has_bad_rows")
    assert bad.json()["errors"][0]["pointer"] == "#/rows/3/who"
    assert (done.status_code, done.json()["created"]) == (201, ["QX-NEW"])
    assert (again.status_code, again.json()["new"], again.json()["repeated"]) == (200, 0, 2)
    (batch,) = client.get("/api/v1/flight-imports/").json()["results"]
    assert (batch["imported"], batch["mapping"]["registration"]) == (2, "who")
    assert client.get(f"/api/v1/flights/?batch={batch['id']}").json()["results"][0]["minutes"] in (30, 40)


@pytest.mark.parametrize("columns", ["no json", "[1]", '{"duration": 5}'])
def test_columns_that_are_no_object_of_text_are_refused(house: makers.House, columns: str) -> None:
    answer = send_file(controller(house), "reg,date,minutes\n", columns=columns)

    assert (answer.status_code, FlightEntry.objects.count()) == (422, 0)
    assert answer.json()["errors"][0]["pointer"] == "#/columns"


def test_a_bad_lot_is_traced_to_every_aircraft_and_run_that_took_of_it() -> None:
    shop = make_workshop(registration="QX-SKA")
    client = api_of(shop.house.person(Role.CONTROLLER))
    sent = {
        "lot": shop.lot.pk,
        "aircraft": "QX-SKA",
        "at": "2025-03-01T09:00:00Z",
        "amount": "20.80",
        "unit": "US gal",
    }
    assert client.post("/api/v1/uplifts/", sent).json()["volume_ml"] == "78736.565107"
    shop.report()
    run = shop.open("panel-purge", at(hours=1))
    use_lot(actor=shop.technician, run_id=run.pk, lot_id=shop.lot.pk, amount="5", unit="L")

    found = client.get(f"/api/v1/fluid-lots/{shop.lot.pk}/trace/").json()

    assert [(row["kind"], row["reference"], row["registration"]) for row in found] == [
        ("uplift", found[0]["reference"], "QX-SKA"),
        ("bench run", run.pk, "QX-SKA"),
    ]
    client.post(f"/api/v1/fluid-lots/{shop.lot.pk}/quarantine/", {"reason": "cloudy"})
    refused = client.post("/api/v1/uplifts/", sent)
    assert (refused.status_code, FluidLot.objects.get().state_reason) == (422, "cloudy")


def test_a_one_time_password_is_in_one_answer_and_nowhere_else(house: makers.House) -> None:
    client = api_of(house.person(Role.ADMINISTRATOR))
    sent = {"username": "eir", "last_name": "Holm", "roles": ["technician"], "base": house.base.code}

    made = client.post("/api/v1/people/", sent, HTTP_IDEMPOTENCY_KEY="k1").json()

    person = User.objects.get(username="eir")
    assert person.check_password(made["one_time_password"])
    assert person.must_change_password
    assert Receipt.objects.count() == 0
    assert "one_time_password" not in client.get(f"/api/v1/people/{made['id']}/").json()


def test_life_limits_say_what_is_left_and_removed_parts_want_a_disposition(house: makers.House) -> None:
    client = controller(house)
    installed = makers.fit(house.aircraft, "pump", opening_landings=9_640)
    part = installed.component_id
    limit = {"kind": "fluid-pump", "parameter": "landings", "limit": 10_000, "source": "manual rev 3"}
    assert client.post("/api/v1/life-limits/", limit).status_code == 201

    (life,) = client.get(f"/api/v1/components/{part}/life/").json()
    assert (life["accumulated"], life["remaining"], life["is_reached"]) == (9_640, 360, False)
    assert client.get("/api/v1/installations/awaiting-disposition/").json()["results"] == []
    place = f"/api/v1/installations/{installed.pk}/disposition/"
    assert client.post(place, {"method": "tag"}).json()["code"] == "component_fitted"

    installed.removed_at, installed.removed_minutes = at(-1), 60_000
    installed.save()
    (waiting,) = client.get("/api/v1/installations/awaiting-disposition/").json()["results"]
    assert waiting["id"] == installed.pk
    assert client.post(place, {"method": "other"}).status_code == 422
    assert client.post(place, {"method": "burning"}).status_code == 422
    assert client.post(place, {"method": "mutilation"}).json()["disposition"] == "mutilation"
    assert client.get("/api/v1/installations/awaiting-disposition/").json()["results"] == []
    assert client.get(f"/api/v1/components/{part}/").json()["scrapped_on"] is not None
    assert client.post(f"/api/v1/components/{part}/scrap/", {"reason": "again"}).status_code == 409


def test_a_part_that_was_fitted_again_wants_no_disposition(house: makers.House) -> None:
    client = controller(house)
    first = makers.fit(house.aircraft, "pump", at(-100))
    first.removed_at, first.removed_minutes = at(-50), 60_000
    first.save()
    makers.InstallationMaker(
        aircraft=house.aircraft, position=first.position, component=first.component, fitted_at=at(-50)
    )
    client.post(
        "/api/v1/life-limits/", {"kind": "fluid-pump", "parameter": "months", "limit": 9, "source": "manual"}
    )

    assert client.get("/api/v1/installations/awaiting-disposition/").json()["results"] == []
    answer = client.post(f"/api/v1/installations/{first.pk}/disposition/", {"method": "tag"})
    assert (answer.status_code, answer.json()["code"]) == (409, "component_fitted_again")


def test_configuration_and_history_say_what_sat_where_and_when(house: makers.House) -> None:
    first = makers.fit(house.aircraft, "pump", at(-100))
    first.removed_at, first.removed_minutes = at(-50), 60_000
    first.save()
    second = makers.InstallationMaker(
        aircraft=house.aircraft,
        position=first.position,
        component=makers.ComponentMaker(operator=house.operator, kind=first.position.kind),
        fitted_at=at(-50),
    )
    client, place = controller(house), "/api/v1/aircraft/QX-SKA/"

    then = client.get(f"{place}configuration/?at=2024-12-01T00:00:00Z").json()
    now = client.get(f"{place}configuration/").json()
    ever = client.get(f"{place}installations/").json()["results"]

    assert [row["component"] for row in then] == [first.component_id]
    assert [row["component"] for row in now] == [second.component_id]
    assert [row["id"] for row in ever] == [second.pk, first.pk]
    assert client.get(f"{place}configuration/?at=yesterday").status_code == 422
    store = client.get("/api/v1/components/?in_store=true").json()["results"]
    assert [row["id"] for row in store] == [first.component_id]
    here = client.get("/api/v1/components/?aircraft=qx-ska").json()["results"]
    assert [row["id"] for row in here] == [second.component_id]


def make_more(house: makers.House, count: int) -> None:
    for number in range(count):
        aircraft = makers.AircraftMaker(
            operator=house.operator,
            base=house.base,
            aircraft_type=house.aircraft_type,
            option_codes=["belly-pod"],
        )
        makers.fit(aircraft, "pump")
        makers.FlightMaker(aircraft=aircraft)
        makers.FluidLotMaker(operator=house.operator, base=house.base)
        makers.EquipmentMaker(operator=house.operator, base=house.base)
        person = makers.make_person(Role.TECHNICIAN, house.operator)
        makers.AuthorisationMaker(user=person, operator=house.operator, act="inspect")
        makers.FlightMaker(aircraft=house.aircraft, reference=f"more {number} {aircraft.pk}")


LISTS = [
    *("aircraft/", "components/", "meters/", "flights/", "fluid-lots/", "equipment/", "people/"),
    *("authorisations/", "bases/", "aircraft-types/", "trail/", "flight-imports/", "uplifts/"),
]


def test_a_list_costs_the_same_with_ten_rows_and_with_twenty(house: makers.House) -> None:
    client = controller(house)

    def costs() -> dict[str, int]:
        found = {}
        for place in LISTS:
            with CaptureQueriesContext(connection) as queries:
                assert client.get(f"/api/v1/{place}?limit=200").status_code == 200
            found[place] = len(queries)
        return found

    make_more(house, 10)
    ten = costs()
    make_more(house, 10)
    assert costs() == ten
    assert max(ten.values()) <= 8
