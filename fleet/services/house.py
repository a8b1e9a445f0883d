"""Bases, and types with their options and positions: what the whole house is described in."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, time
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from django.db import transaction

from fleet.common.actor import Actor, Verb, require
from fleet.common.errors import Conflict, NotFound, Reason, check_version, wrong
from fleet.models import AircraftType, Base, ComponentKind, EquipmentOption, Position
from fleet.selectors.aircraft import aircraft_type_for
from fleet.selectors.people import base_for
from fleet.services.trail import note

CODE = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
LEAP_YEAR = 2024


@dataclass(frozen=True, slots=True)
class BaseEntry:
    """A base; its icing season as (month, day) of first and last day, or None for both."""

    code: str
    name: str
    zone: str
    season_start: tuple[int, int] | None = None
    season_end: tuple[int, int] | None = None
    day_starts_at: time = time(0)
    digest_at: time = time(6, 30)
    quiet_from: time = time(21)
    quiet_to: time = time(6)


@dataclass(frozen=True, slots=True)
class PositionEntry:
    """A place on a type where one component of one kind sits."""

    code: str
    name: str
    kind_code: str
    side: str = "none"
    zone: str = ""
    order: int = 0
    is_outlet: bool = False
    needs_option: str = ""
    map_x: int | None = None
    map_y: int | None = None


@transaction.atomic
def add_base(*, actor: Actor, entry: BaseEntry) -> Base:
    """Open a base. Refuses a known code, an unknown time zone, half a season, a day that does not exist."""
    require(actor, Verb.EDIT_FLEET)
    _check_base(entry)
    _check_free(Base.objects.filter(operator_id=actor.operator_id, code=entry.code).exists(), entry.code)
    base = Base(operator_id=actor.operator_id)
    _fill_base(base, entry)
    note(actor, "add_base", "base", base.code, f"Base {base} opened")
    return base


@transaction.atomic
def change_base(*, actor: Actor, code: str, entry: BaseEntry, version: int | None) -> Base:
    """Change a base; its code stays, because aircraft and records are found by it. Refuses a stale copy."""
    require(actor, Verb.EDIT_FLEET)
    base = Base.objects.select_for_update().get(pk=base_for(actor, code).pk)
    check_version(base.version, version)
    _check_base(entry)
    if entry.code != base.code:
        raise wrong("code", entry.code, "cannot change", f"keep {base.code}")
    base.version += 1
    _fill_base(base, entry)
    note(actor, "change_base", "base", base.code, f"Base {base} changed")
    return base


def _check_base(entry: BaseEntry) -> None:
    _check_words(entry.code, entry.name)
    try:
        ZoneInfo(entry.zone)
    except (ZoneInfoNotFoundError, ValueError, OSError) as error:
        raise wrong("zone", entry.zone, "is no time zone", "write one such as Europe/Oslo") from error
    if (entry.season_start is None) != (entry.season_end is None):
        raise wrong("season_end", "", "a season has a first and a last day", "enter both or neither")
    for field, day in (("season_start", entry.season_start), ("season_end", entry.season_end)):
        if day is not None:
            _check_day(field, day)


def _check_day(field: str, day: tuple[int, int]) -> None:
    try:
        date(LEAP_YEAR, *day)
    except ValueError as error:
        raise wrong(field, f"{day[1]}.{day[0]}.", "is no day of the year", "enter month and day") from error


def _fill_base(base: Base, entry: BaseEntry) -> None:
    base.code, base.name, base.zone = entry.code, entry.name.strip(), entry.zone
    base.season_start_month, base.season_start_day = entry.season_start or (None, None)
    base.season_end_month, base.season_end_day = entry.season_end or (None, None)
    base.day_starts_at, base.digest_at = entry.day_starts_at, entry.digest_at
    base.quiet_from, base.quiet_to = entry.quiet_from, entry.quiet_to
    base.save()


@transaction.atomic
def add_type(*, actor: Actor, code: str, name: str) -> AircraftType:
    """Describe a type. Refuses a known code."""
    require(actor, Verb.EDIT_FLEET)
    _check_words(code, name)
    _check_free(AircraftType.objects.filter(operator_id=actor.operator_id, code=code).exists(), code)
    made = AircraftType.objects.create(operator_id=actor.operator_id, code=code, name=name.strip())
    note(actor, "add_type", "aircraft_type", code, f"Type {made} described")
    return made


@transaction.atomic
def rename_type(*, actor: Actor, code: str, name: str, version: int | None) -> AircraftType:
    """Give a type another name; its code stays. Refuses a stale copy."""
    require(actor, Verb.EDIT_FLEET)
    row = _locked_type(actor, code)
    check_version(row.version, version)
    _check_words(code, name)
    row.name = name.strip()
    row.version += 1
    row.save()
    note(actor, "rename_type", "aircraft_type", code, f"Type {code} is now {row.name}")
    return row


@transaction.atomic
def add_option(*, actor: Actor, type_code: str, code: str, name: str) -> EquipmentOption:
    """Describe an option of a type. Refuses a known code."""
    require(actor, Verb.EDIT_FLEET)
    row = _locked_type(actor, type_code)
    _check_words(code, name)
    _check_free(row.options.filter(code=code).exists(), code)
    option = EquipmentOption.objects.create(aircraft_type=row, code=code, name=name.strip())
    _changed(actor, row, f"Option {option} of {row} described")
    return option


@transaction.atomic
def add_kind(*, actor: Actor, code: str, name: str, ata: str) -> ComponentKind:
    """Describe a kind of component. Refuses a known code."""
    require(actor, Verb.EDIT_FLEET)
    _check_words(code, name)
    _check_free(ComponentKind.objects.filter(operator_id=actor.operator_id, code=code).exists(), code)
    kind = ComponentKind.objects.create(
        operator_id=actor.operator_id, code=code, name=name.strip(), ata=ata.strip()
    )
    note(actor, "add_kind", "component_kind", code, f"Kind {kind} described")
    return kind


@transaction.atomic
def add_position(*, actor: Actor, type_code: str, entry: PositionEntry) -> Position:
    """Describe a place on a type. Refuses a known code, an unknown kind of component or option."""
    require(actor, Verb.EDIT_FLEET)
    row = _locked_type(actor, type_code)
    _check_free(row.positions.filter(code=entry.code).exists(), entry.code)
    position = Position(aircraft_type=row, code=entry.code)
    _fill_position(actor, position, entry)
    _changed(actor, row, f"Position {position} of {row} described")
    return position


@transaction.atomic
def change_position(*, actor: Actor, type_code: str, entry: PositionEntry, version: int | None) -> Position:
    """Change a place (not its code). Refuses another kind of component once something sat there."""
    require(actor, Verb.EDIT_FLEET)
    row = _locked_type(actor, type_code)
    check_version(row.version, version)
    position = row.positions.filter(code=entry.code).select_related("kind").first()
    if position is None:
        raise NotFound("position_not_found", "There is no such position of this type.")
    if entry.kind_code != position.kind.code and position.installations.exists():
        detail = f"cannot change: {position.kind.name.lower()}s sat here"
        raise wrong("kind", entry.kind_code, detail, "describe another position")
    _fill_position(actor, position, entry)
    _changed(actor, row, f"Position {position} of {row} changed")
    return position


def _fill_position(actor: Actor, position: Position, entry: PositionEntry) -> None:
    _check_words(entry.code, entry.name, longest=100)
    kind = ComponentKind.objects.filter(operator_id=actor.operator_id, code=entry.kind_code).first()
    if kind is None:
        raise wrong("kind", entry.kind_code, "is no kind of component here", "choose one of the kinds listed")
    if entry.side not in Position.Side.values:
        raise wrong("side", entry.side, "is no side", f"use one of: {', '.join(Position.Side.values)}")
    option = position.aircraft_type.options.filter(code=entry.needs_option).first()
    if entry.needs_option and option is None:
        raise wrong("needs_option", entry.needs_option, "is no option of this type", "describe it first")
    for field, value in (("map_x", entry.map_x), ("map_y", entry.map_y)):
        if value is not None and not 0 <= value <= 100:
            raise wrong(field, value, "is off the map", "enter 0 to 100 per cent")
    position.name, position.kind, position.side = entry.name.strip(), kind, entry.side
    position.zone, position.order, position.is_outlet = entry.zone.strip(), entry.order, entry.is_outlet
    position.needs_option, position.map_x, position.map_y = option, entry.map_x, entry.map_y
    position.save()


def _locked_type(actor: Actor, code: str) -> AircraftType:
    return AircraftType.objects.select_for_update().get(pk=aircraft_type_for(actor, code).pk)


def _changed(actor: Actor, row: AircraftType, words: str) -> None:
    row.version += 1
    row.save(update_fields=["version"])
    note(actor, "change_type", "aircraft_type", row.code, words)


def _check_words(code: str, name: str, longest: int = 80) -> None:
    if not CODE.fullmatch(code) or len(code) > 40:
        raise wrong("code", code, "is no code", "use small letters, digits and hyphens: tarn-bay")
    if not name.strip():
        raise wrong("name", "", "is missing", "enter a name")
    if len(name) > longest:
        raise wrong("name", name[:20], "is too long", f"use at most {longest} characters")


def _check_free(is_taken: bool, code: str) -> None:
    if is_taken:
        reason = Reason("is taken", "code", code, "choose another")
        raise Conflict("code_taken", f"{code} is taken already.", reason)
