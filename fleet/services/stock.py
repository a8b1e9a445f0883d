"""Fluid lots and equipment: received, approved, quarantined, calibrated, withdrawn; fluid that went into aircraft."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import partial

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day, now
from fleet.common.errors import Conflict, NotFound, Reason, check_version, wrong
from fleet.common.wording import day as day_words
from fleet.models import Base, Calibration, DensityPoint, Equipment, FluidLot, Uplift
from fleet.quantities import Dimension, parse_decimal, parse_quantity, require_dimension, to_decimal
from fleet.selectors.aircraft import aircraft_by_id
from fleet.services.trail import note

_wrong = partial(wrong, code="bad_stock")

MOST_MILLILITRES = 99_000_000


@dataclass(frozen=True, slots=True)
class NewLot:
    """A delivery of fluid; quantities and densities as written on the papers."""

    base_id: int
    specification: str
    batch: str
    supplier: str
    received_on: date
    expires_on: date
    quantity: str
    unit: str
    density_source: str = ""
    densities: Sequence[tuple[str, str]] = ()


@dataclass(frozen=True, slots=True)
class NewEquipment:
    """A tool or instrument put on the list."""

    base_id: int
    code: str
    name: str
    kind: str
    serial_number: str = ""
    needs_calibration: bool = True
    resolution: str = ""
    uncertainty: str = ""
    unit: str = ""


@dataclass(frozen=True, slots=True)
class NewCalibration:
    """One calibration, as its certificate says."""

    equipment_id: int
    done_on: date
    due_on: date
    certificate: str
    laboratory: str = ""


@dataclass(frozen=True, slots=True)
class NewUplift:
    """Fluid of a lot that went into an aircraft, as written."""

    lot_id: int
    aircraft_id: int
    at: datetime
    amount: str
    unit: str


@transaction.atomic
def receive_lot(*, actor: Actor, new: NewLot) -> FluidLot:
    """Take a delivery in; it is not approved yet. Refuses a known batch and densities that make no table."""
    require(actor, Verb.EDIT_STOCK)
    base = _base(actor, new.base_id)
    if not new.batch.strip() or not new.specification.strip():
        raise _wrong("batch", new.batch, "specification and batch are needed", "copy them from the drum")
    if FluidLot.objects.filter(operator_id=actor.operator_id, batch=new.batch.strip()).exists():
        raise _known("batch", new.batch)
    if new.received_on > local_day(base.zone):
        raise _wrong(
            "received_on", new.received_on.isoformat(), "lies in the future", "enter the day it came"
        )
    if new.expires_on < new.received_on:
        raise _wrong(
            "expires_on", new.expires_on.isoformat(), "lies before it was received", "check both dates"
        )
    lot = FluidLot.objects.create(
        operator_id=actor.operator_id,
        base=base,
        specification=new.specification.strip(),
        batch=new.batch.strip(),
        supplier=new.supplier.strip(),
        received_on=new.received_on,
        expires_on=new.expires_on,
        quantity_ml=_millilitres(new.quantity, new.unit, "quantity", 3),
        density_source=new.density_source.strip(),
    )
    _write_densities(lot, new.densities)
    note(actor, "receive_lot", "fluid_lot", lot.pk, f"{lot} received at {base}")
    return lot


def _write_densities(lot: FluidLot, rows: Sequence[tuple[str, str]]) -> None:
    points = []
    for number, (celsius, density) in enumerate(rows):
        point = parse_decimal(celsius, field=f"densities.{number}.celsius", max_digits=6, max_places=2)
        value = parse_decimal(density, field=f"densities.{number}.grams_per_ml", max_digits=8, max_places=5)
        if value <= 0:
            field = f"densities.{number}.grams_per_ml"
            raise _wrong(field, density, "must be above zero", "copy it from the supplier's sheet")
        points.append(DensityPoint(lot=lot, celsius=point, grams_per_ml=value))
    if len({point.celsius for point in points}) < len(points):
        raise _wrong("densities", "", "names a temperature twice", "give each temperature once")
    DensityPoint.objects.bulk_create(points)


@transaction.atomic
def set_lot_state(*, actor: Actor, lot_id: int, state: str, reason: str) -> FluidLot:
    """Approve, quarantine or use up a lot. Refuses quarantine without a reason and approval of an expired lot."""
    require(actor, Verb.EDIT_STOCK)
    lot = _lot(actor, lot_id)
    if state not in FluidLot.State.values:
        raise _wrong(
            "state", state, "is no state of a lot", f"use one of: {', '.join(FluidLot.State.values)}"
        )
    if state == FluidLot.State.QUARANTINED and not reason.strip():
        raise _wrong("reason", "", "is missing", "say why the lot is quarantined")
    if state == FluidLot.State.APPROVED:
        _must_be_usable(lot, reason)
    lot.state = state
    lot.state_reason = reason.strip()[:200]
    lot.version += 1
    lot.save()
    words = f"{lot}: {lot.get_state_display()}" + (f", {lot.state_reason}" if lot.state_reason else "")
    note(actor, "set_lot_state", "fluid_lot", lot.pk, words)
    return lot


def _must_be_usable(lot: FluidLot, reason: str) -> None:
    if lot.expires_on < local_day(lot.base.zone):
        raise _wrong("state", "approved", f"the lot expired on {day_words(lot.expires_on)}", "dispose of it")
    if lot.state == FluidLot.State.QUARANTINED and not reason.strip():
        raise _wrong("reason", "", "is missing", "say what cleared the lot")


@transaction.atomic
def record_uplift(*, actor: Actor, new: NewUplift) -> Uplift:
    """Fluid went into an aircraft. Refuses a lot that is not approved, has expired, or a moment in the future."""
    require(actor, Verb.RECORD_UPLIFT)
    lot = _lot(actor, new.lot_id)
    aircraft = aircraft_by_id(actor, new.aircraft_id)
    if lot.state != FluidLot.State.APPROVED:
        raise _wrong("lot", lot.batch, f"is {lot.get_state_display()}", "use an approved lot")
    if new.at > now():
        raise _wrong("at", new.at.isoformat(), "lies in the future", "enter when it was filled")
    if lot.expires_on < local_day(aircraft.base.zone, new.at):
        raise _wrong(
            "lot", lot.batch, f"expired on {day_words(lot.expires_on)}", "use a lot that has not expired"
        )
    uplift = Uplift.objects.create(
        lot=lot,
        aircraft=aircraft,
        at=new.at,
        amount=new.amount.strip(),
        unit=new.unit,
        volume_ml=_millilitres(new.amount, new.unit, "amount", 6),
        by_id=actor.user_id,
    )
    note(actor, "record_uplift", "aircraft", aircraft.registration, f"{uplift} of {lot} filled")
    return uplift


@transaction.atomic
def add_equipment(*, actor: Actor, new: NewEquipment) -> Equipment:
    """Put equipment on the list. Refuses a known code."""
    require(actor, Verb.EDIT_STOCK)
    base = _base(actor, new.base_id)
    for field in ("code", "name", "kind"):
        if not getattr(new, field).strip():
            raise _wrong(field, "", "is missing", "fill it in")
    if Equipment.objects.filter(operator_id=actor.operator_id, code=new.code).exists():
        raise _known("code", new.code)
    equipment = Equipment.objects.create(
        operator_id=actor.operator_id,
        base=base,
        code=new.code.strip(),
        name=new.name.strip(),
        kind=new.kind.strip(),
        serial_number=new.serial_number.strip(),
        needs_calibration=new.needs_calibration,
        resolution=new.resolution.strip(),
        uncertainty=new.uncertainty.strip(),
        unit=new.unit.strip(),
    )
    note(actor, "add_equipment", "equipment", equipment.pk, f"{equipment} put on the list")
    return equipment


@transaction.atomic
def change_equipment(*, actor: Actor, equipment_id: int, new: NewEquipment, version: int | None) -> Equipment:
    """Change what the list says about equipment; its code stays. Refuses a stale copy."""
    require(actor, Verb.EDIT_STOCK)
    equipment = _equipment(actor, equipment_id)
    check_version(equipment.version, version)
    for field in ("name", "kind"):
        if not getattr(new, field).strip():
            raise _wrong(field, "", "is missing", "fill it in")
    equipment.base = _base(actor, new.base_id)
    equipment.needs_calibration = new.needs_calibration
    for field in ("name", "kind", "serial_number", "resolution", "uncertainty", "unit"):
        setattr(equipment, field, getattr(new, field).strip())
    equipment.version += 1
    equipment.save()
    note(actor, "change_equipment", "equipment", equipment.pk, f"{equipment} changed on the list")
    return equipment


@transaction.atomic
def record_calibration(*, actor: Actor, new: NewCalibration) -> Calibration:
    """Enter a calibration. Refuses a day in the future, an end before its day, and a missing certificate."""
    require(actor, Verb.EDIT_STOCK)
    equipment = _equipment(actor, new.equipment_id)
    if new.done_on > local_day(equipment.base.zone):
        raise _wrong(
            "done_on", new.done_on.isoformat(), "lies in the future", "enter the day on the certificate"
        )
    if new.due_on <= new.done_on:
        raise _wrong(
            "due_on", new.due_on.isoformat(), "is not after the calibration", "enter until when it holds"
        )
    if not new.certificate.strip():
        raise _wrong("certificate", "", "is missing", "enter the certificate's number")
    calibration = Calibration.objects.create(
        equipment=equipment,
        done_on=new.done_on,
        due_on=new.due_on,
        certificate=new.certificate.strip(),
        laboratory=new.laboratory.strip(),
    )
    words = f"{equipment} calibrated, holds until {day_words(new.due_on)}"
    note(actor, "record_calibration", "equipment", equipment.pk, words)
    return calibration


@transaction.atomic
def withdraw_equipment(*, actor: Actor, equipment_id: int) -> Equipment:
    """Take equipment out of use; what was measured with it stays."""
    require(actor, Verb.EDIT_STOCK)
    equipment = _equipment(actor, equipment_id)
    if equipment.withdrawn_on is None:
        equipment.withdrawn_on = local_day(equipment.base.zone)
        equipment.version += 1
        equipment.save()
        note(actor, "withdraw_equipment", "equipment", equipment.pk, f"{equipment} withdrawn from use")
    return equipment


def _base(actor: Actor, base_id: int) -> Base:
    base = Base.objects.filter(pk=base_id, operator_id=actor.operator_id).first()
    if base is None:
        raise NotFound("base_not_found", "There is no such base here.")
    return base


def _lot(actor: Actor, lot_id: int) -> FluidLot:
    rows = FluidLot.objects.select_for_update(of=("self",)).select_related("base")
    lot = rows.filter(pk=lot_id, operator_id=actor.operator_id).first()
    if lot is None:
        raise NotFound("lot_not_found", "There is no such fluid lot here.")
    return lot


def _equipment(actor: Actor, equipment_id: int) -> Equipment:
    rows = Equipment.objects.select_for_update(of=("self",)).select_related("base")
    equipment = rows.filter(pk=equipment_id, operator_id=actor.operator_id).first()
    if equipment is None:
        raise NotFound("equipment_not_found", "There is no such equipment here.")
    return equipment


def _millilitres(written: str, unit: str, field: str, places: int) -> Decimal:
    quantity = parse_quantity(written, unit, field=field)
    require_dimension(quantity.unit, Dimension.VOLUME, field=f"{field} unit")
    volume = quantity.in_unit("mL")
    if volume <= 0:
        raise _wrong(field, written, "must be above zero", "enter how much there was")
    if volume > MOST_MILLILITRES:
        raise _wrong(field, written, "is more than any tank holds", "check the number and the unit")
    return to_decimal(volume, places)


def _known(field: str, value: str) -> Conflict:
    return Conflict(
        "known_already",
        f"{value} is on the list already.",
        Reason("is there already", field, value, "open it instead"),
    )
