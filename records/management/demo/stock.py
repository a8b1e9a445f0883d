"""Equipment with its calibrations, fluid lots with their density tables, and the fluid every aircraft took."""

from __future__ import annotations

import random
from datetime import time, timedelta
from decimal import Decimal
from typing import Any

from fleet.models import Calibration, DensityPoint, Equipment, FluidLot, Uplift
from records.management.demo.scenario import DAYS_OF_HISTORY, Scenario, written

LABORATORY = "Harbour Calibration"
DAYS_BETWEEN_CALIBRATIONS = 355


def stock_up(scenario: Scenario) -> None:
    """Everything in the stores of all bases."""
    whole = written("demo/fleet.json")
    for row in whole["equipment"]:
        _equipment(scenario, row)
    for row in whole["fluid_lots"]:
        _lot(scenario, row)


def _equipment(scenario: Scenario, row: dict[str, Any]) -> None:
    equipment = Equipment.objects.create(
        operator=scenario.operator,
        base=scenario.bases[row["base"]],
        code=row["code"],
        name=row["name"],
        kind=row["kind"],
        serial_number=row["serial"],
        needs_calibration=row["needs_calibration"],
        resolution=row["resolution"],
        uncertainty=row["uncertainty"],
        unit=row["unit"],
    )
    scenario.equipment.setdefault((row["base"], row["kind"]), []).append(equipment)
    if not row["needs_calibration"]:
        return
    newest = row["calibrated_days_ago"]
    days = range(newest, DAYS_OF_HISTORY + DAYS_BETWEEN_CALIBRATIONS, DAYS_BETWEEN_CALIBRATIONS)
    Calibration.objects.bulk_create(
        Calibration(
            equipment=equipment,
            done_on=scenario.day(days_ago),
            due_on=scenario.day(days_ago - row["holds_days"]),
            certificate=f"HC-{scenario.day(days_ago):%y%m}-{equipment.pk:03d}",
            laboratory=LABORATORY,
        )
        for days_ago in reversed(days)
    )


def _lot(scenario: Scenario, row: dict[str, Any]) -> None:
    lot = FluidLot.objects.create(
        operator=scenario.operator,
        specification=row["specification"],
        batch=row["batch"],
        supplier=row["supplier"],
        base=scenario.bases[row["base"]],
        received_on=scenario.day(row["received_days_ago"]),
        expires_on=scenario.day(row["received_days_ago"] - row["holds_days"]),
        quantity_ml=Decimal(row["quantity_ml"]),
        state=row["state"],
        state_reason=row.get("state_reason", ""),
        density_source=row["density_source"],
    )
    DensityPoint.objects.bulk_create(
        DensityPoint(lot=lot, celsius=Decimal(celsius), grams_per_ml=Decimal(density))
        for celsius, density in row["density"]
    )
    if lot.state in (FluidLot.State.APPROVED, FluidLot.State.USED_UP):
        scenario.lots.setdefault(row["base"], []).append(lot)


def lot_on(scenario: Scenario, base: str, days_ago: int) -> FluidLot:
    """The newest lot the base had and could use on a day."""
    day = scenario.day(days_ago)
    usable = [lot for lot in scenario.lots[base] if lot.received_on <= day <= lot.expires_on]
    return max(usable, key=lambda lot: lot.received_on)


def take_fluid(scenario: Scenario) -> None:
    """Uplifts of two winters: every nine days or so in the season of the base, none in its summer."""
    chance = random.Random("uplifts")  # noqa: S311 - invents, guards nothing
    rows = []
    for aircraft in scenario.aircraft.values():
        base = aircraft.base
        for days_ago in range(DAYS_OF_HISTORY - 5 - chance.randrange(9), 1, -9):
            day = scenario.day(days_ago - chance.randrange(4) if days_ago > 5 else days_ago)
            in_season = day.month >= (base.season_start_month or 10) or day.month <= (
                base.season_end_month or 4
            )
            if not in_season or day >= scenario.today:
                continue
            litres = Decimal(chance.randrange(60, 300)) / 10
            lot = lot_on(scenario, base.code, (scenario.today - day).days)
            at = scenario.at((scenario.today - day).days, time(5, chance.randrange(60)), base.zone)
            rows.append(
                Uplift(
                    lot=lot, aircraft=aircraft, at=at, amount=str(litres), unit="L", volume_ml=litres * 1000
                )
            )
    Uplift.objects.bulk_create(sorted(rows, key=lambda row: row.at + timedelta(microseconds=row.aircraft_id)))
