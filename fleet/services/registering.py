"""The register: aircraft with their options and opening counters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.clock import local_day, now
from fleet.common.errors import Conflict, Reason, check_version, wrong
from fleet.models import Aircraft, AircraftType, Base, EquipmentOption, Installation, Meter, Reading
from fleet.selectors.aircraft import aircraft_for
from fleet.selectors.meters import KINDS, Counters
from fleet.services.meters import HIGHEST_READING
from fleet.services.trail import note

NOT_RECORDED = "not recorded"
LONGEST_REGISTRATION = 12


@dataclass(frozen=True, slots=True)
class AircraftEntry:
    """An aircraft as the register has it; type, base and options by code."""

    registration: str
    serial_number: str
    type_code: str
    base_code: str
    manufactured_on: date | None = None
    option_codes: Sequence[str] = ()
    note: str = ""
    withdrawn_on: date | None = None


@dataclass(frozen=True, slots=True)
class Opening:
    """What its meters showed at a moment, when it came to this operator."""

    at: datetime
    counters: Counters


@transaction.atomic
def register_aircraft(*, actor: Actor, entry: AircraftEntry, opening: Opening) -> Aircraft:
    """Put an aircraft on the register with its opening counters. Refuses a known registration."""
    require(actor, Verb.EDIT_FLEET)
    aircraft_type, base, options = _checked(actor, entry)
    name = entry.registration.strip().upper()
    if Aircraft.objects.filter(operator_id=actor.operator_id, registration__iexact=name).exists():
        reason = Reason("is on the register already", "registration", name, "open it instead")
        raise Conflict("registration_known", f"{name} is on the register already.", reason)
    if opening.at > now():
        raise wrong("opening_at", opening.at.isoformat(), "lies in the future", "enter when they were read")
    aircraft = Aircraft.objects.create(
        operator_id=actor.operator_id,
        aircraft_type=aircraft_type,
        base=base,
        registration=name,
        serial_number=entry.serial_number.strip(),
        manufactured_on=entry.manufactured_on,
        withdrawn_on=entry.withdrawn_on,
        note=entry.note.strip(),
    )
    aircraft.options.set(options)
    _open_meters(actor, aircraft, opening)
    note(actor, "register_aircraft", "aircraft", name, f"{name} put on the register at {base}")
    return aircraft


@transaction.atomic
def change_aircraft(
    *, actor: Actor, registration: str, entry: AircraftEntry, version: int | None
) -> Aircraft:
    """Change what the register says. Refuses a stale copy, another type while parts sit in it, a taken name."""
    require(actor, Verb.EDIT_FLEET)
    found = aircraft_for(actor, registration)
    aircraft = Aircraft.objects.select_for_update().get(pk=found.pk)
    check_version(aircraft.version, version)
    aircraft_type, base, options = _checked(actor, entry)
    _check_change(aircraft, entry, aircraft_type, options)
    aircraft.registration = entry.registration.strip().upper()
    aircraft.serial_number = entry.serial_number.strip()
    aircraft.aircraft_type, aircraft.base = aircraft_type, base
    aircraft.manufactured_on, aircraft.withdrawn_on = entry.manufactured_on, entry.withdrawn_on
    aircraft.note = entry.note.strip()
    aircraft.version += 1
    aircraft.save()
    aircraft.options.set(options)
    note(actor, "change_aircraft", "aircraft", aircraft.registration, f"{aircraft} changed on the register")
    return aircraft


def _checked(actor: Actor, entry: AircraftEntry) -> tuple[AircraftType, Base, list[EquipmentOption]]:
    name = entry.registration.strip()
    if not name or len(name) > LONGEST_REGISTRATION or " " in name or "/" in name:
        raise wrong("registration", name, "is no registration", "enter 1 to 12 characters without spaces")
    if not entry.serial_number.strip():
        raise wrong("serial_number", "", "is missing", "copy it from the data plate")
    aircraft_type = AircraftType.objects.filter(operator_id=actor.operator_id, code=entry.type_code).first()
    base = Base.objects.filter(operator_id=actor.operator_id, code=entry.base_code).first()
    if aircraft_type is None:
        raise wrong("aircraft_type", entry.type_code, "is no type here", "choose one of the types listed")
    if base is None:
        raise wrong("base", entry.base_code, "is no base here", "choose one of the bases listed")
    options = list(aircraft_type.options.filter(code__in=entry.option_codes))
    unknown = set(entry.option_codes) - {option.code for option in options}
    if unknown:
        shown = ", ".join(sorted(unknown))
        raise wrong("options", shown, "is no option of this type", "choose from the type's options")
    if entry.withdrawn_on is not None and entry.withdrawn_on > local_day(base.zone):
        raise wrong("withdrawn_on", entry.withdrawn_on, "lies in the future", "enter it on the day")
    return aircraft_type, base, options


def _check_change(
    aircraft: Aircraft, entry: AircraftEntry, aircraft_type: AircraftType, options: list[EquipmentOption]
) -> None:
    name = entry.registration.strip().upper()
    same_name = Aircraft.objects.filter(operator_id=aircraft.operator_id, registration__iexact=name)
    if same_name.exclude(pk=aircraft.pk).exists():
        reason = Reason("is on the register already", "registration", name, "enter another")
        raise Conflict("registration_known", f"{name} is on the register already.", reason)
    fitted = Installation.objects.filter(aircraft=aircraft, removed_at=None)
    if aircraft_type.pk != aircraft.aircraft_type_id and fitted.exists():
        remedy = "report the components removed first"
        raise wrong("aircraft_type", aircraft_type.code, "cannot change while components sit in it", remedy)
    homeless = fitted.exclude(position__needs_option=None).exclude(position__needs_option__in=options).first()
    if homeless is not None:
        detail = f"must stay: {homeless.component} sits at {homeless.position}"
        raise wrong("options", str(homeless.position.needs_option), detail, "report it removed first")


def _open_meters(actor: Actor, aircraft: Aircraft, opening: Opening) -> None:
    for kind, value in opening.counters.as_dict().items():
        if not 0 <= value <= HIGHEST_READING:
            raise wrong(f"opening_{kind}", value, "is out of range", "enter what the meter showed")
        meter = Meter.objects.create(aircraft=aircraft, kind=kind, value=value, as_of=opening.at)
        Reading.objects.create(
            meter=meter,
            at=opening.at,
            value=value,
            kind=Reading.Kind.OPENING,
            reason="on the register",
            posted_at=now(),
            posted_by_id=actor.user_id,
        )


@transaction.atomic
def new_aircraft_in_bulk(
    *, actor: Actor, aircraft_type: AircraftType, base: Base, names: Sequence[str]
) -> dict[str, int]:
    """Put many registrations on the register at once, each with its three meters at zero; their keys by name."""
    require(actor, Verb.EDIT_FLEET)
    made = Aircraft.objects.bulk_create(
        Aircraft(
            operator_id=actor.operator_id,
            aircraft_type=aircraft_type,
            base=base,
            registration=name,
            serial_number=NOT_RECORDED,
        )
        for name in names
    )
    Meter.objects.bulk_create(Meter(aircraft=aircraft, kind=kind) for aircraft in made for kind in KINDS)
    return {aircraft.registration: aircraft.pk for aircraft in made}
