"""What a rule or a procedure may name at an operator: kinds, procedures, options, positions, types."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from fleet.models import AircraftType, ComponentKind, EquipmentOption, Position
from scheduling.models import EventKind, ProcedureVersion
from scheduling.triggers.rule_form import FieldError, Known
from scheduling.triggers.terms import Where


@dataclass(frozen=True, slots=True)
class Places:
    """Codes that a condition may name."""

    positions: frozenset[str]
    component_types: frozenset[str]
    aircraft_types: frozenset[str]


def known_for(operator_id: int) -> Known:
    """What a rule may name: kinds of event in use, procedures in force, options of the operator's types."""
    kinds = EventKind.objects.filter(operator_id=operator_id, retired_on=None)
    versions = ProcedureVersion.objects.filter(procedure__operator_id=operator_id, state="current")
    return Known(
        event_kinds=frozenset(kinds.values_list("code", flat=True)),
        procedure_codes=frozenset(versions.values_list("procedure__code", flat=True)),
        options=frozenset(option_names(operator_id)),
    )


def option_names(operator_id: int) -> dict[str, str]:
    """Name by code of every option of the operator's types."""
    rows = EquipmentOption.objects.filter(aircraft_type__operator_id=operator_id)
    return dict(rows.values_list("code", "name"))


def where_known(operator_id: int) -> Places:
    """Codes of positions, kinds of component and types of the operator."""
    positions = Position.objects.filter(aircraft_type__operator_id=operator_id)
    return Places(
        positions=frozenset(positions.values_list("code", flat=True)),
        component_types=frozenset(
            ComponentKind.objects.filter(operator_id=operator_id).values_list("code", flat=True)
        ),
        aircraft_types=frozenset(
            AircraftType.objects.filter(operator_id=operator_id).values_list("code", flat=True)
        ),
    )


def strangers_in(where: Where, places: Places) -> Iterator[FieldError]:
    """Names in a condition that nothing here carries: such a rule would never match."""
    for prefix in where.positions:
        if not any(code == prefix or code.startswith(f"{prefix}-") for code in places.positions):
            yield _stranger("positions", prefix, "no position is called so or begins so")
    for code in sorted(where.component_types - places.component_types):
        yield _stranger("component_types", code, "is no kind of component here")
    for code in sorted(where.aircraft_types - places.aircraft_types):
        yield _stranger("aircraft_types", code, "is no type here")


def _stranger(name: str, value: str, detail: str) -> FieldError:
    return FieldError(f"where.{name}", value, detail, "choose one that is")
