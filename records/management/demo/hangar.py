"""Types with their positions, the aircraft, and a component in every position they have."""

from __future__ import annotations

import random
from datetime import date, timedelta
from typing import Any

from fleet.models import (
    Aircraft,
    AircraftType,
    Component,
    ComponentKind,
    EquipmentOption,
    Installation,
    Meter,
    Overhaul,
    Position,
    Reading,
)
from fleet.quantities import parse_hours
from records.management.demo.scenario import Scenario, written

HOURS_A_YEAR_BEFORE = 720
PART_NUMBERS = {
    "porous-panel": "PP",
    "fluid-tank": "FT",
    "fluid-pump": "FP",
    "fluid-filter": "FF",
    "proportioning-unit": "PU",
    "slinger-ring": "SR",
    "spray-bar": "SB",
}


def build_types(scenario: Scenario) -> None:
    """Both types: options, kinds of component, positions."""
    whole = written("demo/fleet.json")
    for row in whole["component_kinds"]:
        scenario.kinds[row["code"]] = ComponentKind.objects.create(operator=scenario.operator, **row)
    for row in whole["types"]:
        one = AircraftType.objects.create(operator=scenario.operator, code=row["code"], name=row["name"])
        scenario.types[row["code"]] = one
        options = {
            code: EquipmentOption.objects.create(aircraft_type=one, code=code, name=name)
            for code, name in row["options"].items()
        }
        Position.objects.bulk_create(
            _position(scenario, one, options, place | {"order": order})
            for order, place in enumerate(row["positions"])
        )


def _position(
    scenario: Scenario, one: AircraftType, options: dict[str, EquipmentOption], row: dict[str, Any]
) -> Position:
    needs_option = options[row["needs_option"]] if row["needs_option"] else None
    kind = scenario.kinds[row["kind"]]
    return Position(aircraft_type=one, **row | {"kind": kind, "needs_option": needs_option})


def register_aircraft(scenario: Scenario) -> None:
    """Every aircraft with its opening readings and a component in each of its positions."""
    for row in written("demo/fleet.json")["aircraft"]:
        minutes = parse_hours(row["opening_hours"])
        years = minutes / 60 / HOURS_A_YEAR_BEFORE
        built_on = scenario.opened.date() - timedelta(days=int(years * 365.25))
        aircraft = Aircraft.objects.create(
            operator=scenario.operator,
            aircraft_type=scenario.types[row["type"]],
            base=scenario.bases[row["base"]],
            registration=row["registration"],
            serial_number=row["serial"],
            manufactured_on=built_on,
        )
        aircraft.options.set(aircraft.aircraft_type.options.filter(code__in=row["options"]))
        scenario.aircraft[aircraft.registration] = aircraft
        scenario.stories[aircraft.registration] = row["story"]
        opening = {"minutes": minutes, "landings": row["opening_landings"], "cycles": row["opening_landings"]}
        _open_meters(scenario, aircraft, opening)
        _equip(scenario, aircraft, opening)


def _open_meters(scenario: Scenario, aircraft: Aircraft, opening: dict[str, int]) -> None:
    for kind, value in opening.items():
        meter = Meter.objects.create(aircraft=aircraft, kind=kind, value=value, as_of=scenario.opened)
        Reading.objects.create(
            meter=meter,
            at=scenario.opened,
            value=value,
            kind=Reading.Kind.OPENING,
            reason="carried over from the books before",
            posted_at=scenario.opened,
        )


def _equip(scenario: Scenario, aircraft: Aircraft, opening: dict[str, int]) -> None:
    """Most components came with the aircraft; about a quarter are younger; pumps were overhauled on the way."""
    chance = random.Random(f"components {aircraft.registration}")  # noqa: S311 - invents, guards nothing
    options = set(aircraft.options.values_list("pk", flat=True))
    rows = aircraft.aircraft_type.positions.select_related("kind")
    positions = [row for row in rows if row.needs_option_id is None or row.needs_option_id in options]
    shares = [1.0 if chance.random() < 0.75 else chance.uniform(0.3, 0.9) for _ in positions]
    components = Component.objects.bulk_create(
        _component(scenario, aircraft, opening, (position, share))
        for position, share in zip(positions, shares, strict=True)
    )
    Installation.objects.bulk_create(
        Installation(
            aircraft=aircraft,
            position=position,
            component=component,
            fitted_at=scenario.opened,
            fitted_minutes=opening["minutes"],
            fitted_landings=opening["landings"],
            fitted_cycles=opening["cycles"],
        )
        for position, component in zip(positions, components, strict=True)
    )
    Overhaul.objects.bulk_create(
        _overhaul(scenario, component, chance)
        for component in components
        if component.kind.code == "fluid-pump"
    )


def _component(
    scenario: Scenario, aircraft: Aircraft, opening: dict[str, int], place: tuple[Position, float]
) -> Component:
    position, share = place
    built_on: date = aircraft.manufactured_on or scenario.opened.date()
    letters = PART_NUMBERS[position.kind.code]
    return Component(
        operator=scenario.operator,
        kind=position.kind,
        part_number=f"{letters}-{position.aircraft_type.code[0].upper()}-{position.code.upper()}"[:60],
        serial_number=f"{letters}{aircraft.serial_number[-2:]}{position.order:02d}",
        manufactured_on=built_on + (scenario.opened.date() - built_on) * (1 - share),
        opening_minutes=int(opening["minutes"] * share),
        opening_landings=int(opening["landings"] * share),
        opening_cycles=int(opening["cycles"] * share),
        release_document=f"SK-REL-{aircraft.serial_number}-{position.order:02d}",
    )


def _overhaul(scenario: Scenario, pump: Component, chance: random.Random) -> Overhaul:
    """So long before the books begin that no pump has reached its limit since."""
    since = min(chance.randrange(60, 500) * 60, pump.opening_minutes // 2)
    share = 1 - since / max(pump.opening_minutes, 1)
    return Overhaul(
        component=pump,
        done_on=scenario.day(745 + chance.randrange(60)),
        since_new_minutes=int(pump.opening_minutes * share),
        since_new_landings=int(pump.opening_landings * share),
        since_new_cycles=int(pump.opening_cycles * share),
        release_document=f"SK-OVH-{pump.serial_number}",
    )
