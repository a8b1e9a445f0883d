"""Addresses, forms and buttons of the fleet's pages, and one of everything they speak of."""

from __future__ import annotations

from typing import Any

from django.test import Client

from fleet.common.actor import Role
from fleet.models import (
    FlightEntry,
    LifeLimit,
    Meter,
)
from tests import makers
from tests.makers import at, browser_of

C, T, D, A, ADM = Role.CONTROLLER, Role.TECHNICIAN, Role.DIRECTOR, Role.AUDITOR, Role.ADMINISTRATOR


def page_of(house: makers.House, role: Role = C) -> Client:
    return browser_of(house.person(role))


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
