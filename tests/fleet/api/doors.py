"""Every command and every read of the fleet's API, with one of everything they speak of."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import Model

from fleet.common.actor import Role
from fleet.models import Authorisation, Component, Equipment, FlightEntry, FluidLot, LifeLimit, Meter
from fleet.services.meters import NewFlight, post_flight
from tests import makers
from tests.makers import at

C, T, N, D, A, ADM = (
    Role.CONTROLLER,
    Role.TECHNICIAN,
    Role.INSPECTOR,
    Role.DIRECTOR,
    Role.AUDITOR,
    Role.ADMINISTRATOR,
)
FLEET, STOCK, PEOPLE, GRANT = {C, D, ADM}, {C, D, ADM}, {ADM}, {D, ADM}


@dataclass
class Scene:
    """A house with one of everything."""

    house: makers.House
    lot: FluidLot
    received: FluidLot
    equipment: Equipment
    component: Component
    removed: Any
    flight: FlightEntry
    meter: Meter
    limit: LifeLimit
    authorisation: Authorisation


def make_scene() -> Scene:
    house = makers.make_house(registration="QX-SKA")
    operator, base = house.operator, house.base
    position = house.position("pump")
    removed = makers.InstallationMaker(
        aircraft=house.aircraft,
        position=position,
        component=makers.ComponentMaker(operator=operator, kind=position.kind),
        removed_at=at(1),
        removed_minutes=60_000,
    )
    technician = house.person(T)
    new = NewFlight(house.aircraft.pk, at(-3), 60, 1, 1, "L0")
    flight, _ = post_flight(actor=house.actor(C), flight=new)
    return Scene(
        house,
        makers.FluidLotMaker(operator=operator, base=base),
        makers.FluidLotMaker(operator=operator, base=base, state="received"),
        makers.EquipmentMaker(operator=operator, base=base),
        makers.ComponentMaker(operator=operator, kind=position.kind),
        removed,
        flight,
        Meter.objects.get(aircraft=house.aircraft, kind="minutes"),
        LifeLimit.objects.create(
            operator=operator, kind=position.kind, parameter="months", limit=120, source="manual rev 3"
        ),
        makers.AuthorisationMaker(user=technician, operator=operator, granted_by=house.person(D)),
    )


@dataclass(frozen=True)
class Door:
    """One command: its method, where it is, what is sent, who may, what a success answers."""

    name: str
    place: str
    body: dict[str, Any] | Callable[[Scene], dict[str, Any]]
    roles: set[Role]
    status: int = 201
    method: str = "post"
    form: bool = False


AIRCRAFT = {"registration": "QX-NEW", "serial_number": "77", "opening_at": "2024-01-01T00:00:00Z"}


def aircraft_of(scene: Scene, **more: Any) -> dict[str, Any]:
    house = scene.house
    return {**AIRCRAFT, "aircraft_type": house.aircraft_type.code, "base": house.base.code, **more}


def lot_sent(scene: Scene) -> dict[str, Any]:
    return {
        "base": scene.house.base.code,
        "specification": "Glycol",
        "batch": "B-77",
        "received_on": "2025-01-01",
        "expires_on": "2099-01-01",
        "quantity": "200",
        "unit": "L",
        "densities": [{"celsius": "20", "grams_per_ml": "1.09"}],
    }


def flight_file(scene: Scene) -> dict[str, Any]:
    rows = b"reg,date,minutes\nQX-SKA,2025-03-01,30\n"
    return {"file": SimpleUploadedFile("log.csv", rows, "text/csv")}


def equipment_sent(scene: Scene, code: str = "eq-new") -> dict[str, Any]:
    return {"base": scene.house.base.code, "code": code, "name": "Balance", "kind": "balance"}


POSITION = {"code": "panel-tail", "name": "Tail panel", "kind": "porous-panel"}
BASE = {"code": "tarn-bay", "name": "Tarn Bay", "zone": "Europe/Oslo"}
WHY = {"reason": "because"}
DOORS = [
    Door("open a base", "bases/", BASE, FLEET),
    Door(
        "change a base",
        "bases/{base}/",
        lambda s: {**BASE, "code": s.house.base.code},
        FLEET,
        200,
        "put",
    ),
    Door("describe a type", "aircraft-types/", {"code": "dovekie", "name": "Dovekie"}, FLEET),
    Door(
        "rename a type",
        "aircraft-types/{type}/",
        {"name": "X"},
        FLEET,
        200,
        "patch",
    ),
    Door(
        "describe an option",
        "aircraft-types/{type}/options/",
        {"code": "floats", "name": "Floats"},
        FLEET,
    ),
    Door(
        "describe a position",
        "aircraft-types/{type}/positions/",
        POSITION,
        FLEET,
    ),
    Door(
        "change a position",
        "aircraft-types/{type}/positions/tank/",
        {"code": "tank", "name": "Fluid tank", "kind": "fluid-tank"},
        FLEET,
        200,
        "put",
    ),
    Door("describe a kind", "component-kinds/", {"code": "valve", "name": "Valve"}, FLEET),
    Door("register an aircraft", "aircraft/", aircraft_of, FLEET),
    Door(
        "change an aircraft",
        "aircraft/QX-SKA/",
        lambda s: aircraft_of(s, registration="QX-SKA"),
        FLEET,
        200,
        "put",
    ),
    Door(
        "register a component",
        "components/",
        {"kind": "fluid-pump", "part_number": "P1", "serial_number": "S1"},
        {C, T, N, D},
    ),
    Door(
        "change a component",
        "components/{component}/",
        {"release_document": "F1"},
        FLEET,
        200,
        "patch",
    ),
    Door(
        "enter an overhaul",
        "components/{component}/overhauls/",
        {"done_on": "2025-01-01", "release_document": "F1"},
        FLEET,
    ),
    Door("scrap a component", "components/{component}/scrap/", WHY, FLEET, 200),
    Door(
        "dispose of a part",
        "installations/{removed}/disposition/",
        {"method": "tag"},
        {C, T, N, D},
        200,
    ),
    Door(
        "set a life limit",
        "life-limits/",
        {"kind": "fluid-pump", "parameter": "minutes", "limit": 60, "source": "manual"},
        FLEET,
    ),
    Door("drop a life limit", "life-limits/{limit}/drop/", WHY, FLEET, 204),
    Door(
        "post a reading",
        "meters/{meter}/readings/",
        {"at": "2025-03-04T00:00:00Z", "value": 60_100},
        {C, T, D},
    ),
    Door(
        "correct a meter",
        "meters/{meter}/corrections/",
        {"at": "2025-03-04T00:00:00Z", "value": 60_000, **WHY},
        {C, D},
    ),
    Door(
        "post a flight",
        "flights/",
        {"aircraft": "QX-SKA", "off_at": "2025-03-01T09:00:00Z", "minutes": 60, "reference": "L1"},
        {C, T, D},
    ),
    Door("void a flight", "flights/{flight}/void/", WHY, {C, D}, 200),
    Door("import flights", "flight-imports/", flight_file, {C, T, D}, form=True),
    Door(
        "look through flights",
        "flight-imports/",
        lambda s: {**flight_file(s), "dry_run": "true"},
        {C, T, D},
        200,
        form=True,
    ),
    Door("receive fluid", "fluid-lots/", lot_sent, STOCK),
    Door("approve a lot", "fluid-lots/{received}/approve/", {}, STOCK, 200),
    Door("quarantine a lot", "fluid-lots/{lot}/quarantine/", WHY, STOCK, 200),
    Door("use up a lot", "fluid-lots/{lot}/use-up/", {}, STOCK, 200),
    Door(
        "record an uplift",
        "uplifts/",
        lambda s: {
            "lot": s.lot.pk,
            "aircraft": "QX-SKA",
            "at": "2025-03-01T09:00:00Z",
            "amount": "20",
            "unit": "L",
        },
        {C, T, D},
    ),
    Door("add equipment", "equipment/", equipment_sent, STOCK),
    Door(
        "change equipment",
        "equipment/{equipment}/",
        lambda s: equipment_sent(s, s.equipment.code),
        STOCK,
        200,
        "put",
    ),
    Door(
        "calibrate equipment",
        "equipment/{equipment}/calibrations/",
        {"done_on": "2025-01-01", "due_on": "2026-01-01", "certificate": "C9"},
        STOCK,
    ),
    Door("withdraw equipment", "equipment/{equipment}/withdraw/", {}, STOCK, 200),
    Door(
        "add a person",
        "people/",
        {"username": "n", "last_name": "N", "roles": ["technician"]},
        PEOPLE,
    ),
    Door(
        "change a person",
        "people/{person}/",
        {"last_name": "Berg"},
        PEOPLE,
        200,
        "patch",
    ),
    Door("set roles", "people/{person}/roles/", {"roles": ["inspector"]}, PEOPLE, 200),
    Door("reset a password", "people/{person}/password/", {}, PEOPLE, 200),
    Door(
        "enter a certificate",
        "people/{person}/certificates/",
        {"kind": "B1", "number": "9", "authority": "X", "issued_on": "2025-01-01"},
        GRANT,
    ),
    Door(
        "authorise",
        "people/{person}/authorisations/",
        {"act": "perform", "reference": "R", "valid_from": "2025-01-01", "valid_to": "2026-01-01"},
        GRANT,
    ),
    Door("revoke", "authorisations/{authorisation}/revoke/", {}, GRANT, 200),
    Door("make a key", "tokens/", {"label": "tablet"}, set(Role)),
]
READS = [
    *(
        "bases/",
        "bases/{base}/",
        "aircraft-types/",
        "aircraft-types/{type}/",
        "component-kinds/",
        "aircraft/",
    ),
    *("aircraft/QX-SKA/", "aircraft/QX-SKA/configuration/", "aircraft/QX-SKA/installations/", "components/"),
    *("components/{component}/", "components/{component}/times/", "components/{component}/life/"),
    *("components/{component}/installations/", "installations/awaiting-disposition/", "life-limits/"),
    *("meters/", "meters/{meter}/readings/", "flights/", "flights/{flight}/", "flight-imports/"),
    *("fluid-lots/", "fluid-lots/{lot}/", "fluid-lots/{lot}/trace/", "uplifts/", "equipment/"),
    *("equipment/{equipment}/", "equipment/{equipment}/calibrations/", "people/", "people/{person}/"),
    *("authorisations/", "tokens/", "trail/"),
]


def address_of(scene: Scene, place: str) -> str:
    house = scene.house
    things = (
        "component",
        "removed",
        "limit",
        "meter",
        "flight",
        "lot",
        "received",
        "equipment",
        "authorisation",
    )
    keys = {name: getattr(scene, name).pk for name in things}
    codes = {"base": house.base.code, "type": house.aircraft_type.code, "person": house.person(T).pk}
    return "/api/v1/" + place.format(**keys, **codes)


def send(scene: Scene, door: Door, client: Any, **headers: Any) -> Any:
    body = door.body(scene) if callable(door.body) else door.body
    address = address_of(scene, door.place)
    more = {"format": "multipart"} if door.form else {}
    if door.method in ("put", "patch") and "HTTP_IF_MATCH" not in headers:
        headers["HTTP_IF_MATCH"] = "*"
    return getattr(client, door.method)(address, body, **more, **headers)


def rows() -> dict[str, list[tuple[Any, ...]]]:
    """Every row of every table of the room: nothing may differ after a refusal."""
    tables: list[type[Model]] = [*apps.get_app_config("fleet").get_models(include_auto_created=True)]
    return {table.__name__: list(table._default_manager.order_by("pk").values_list()) for table in tables}
