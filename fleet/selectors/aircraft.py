"""Reads about aircraft, their configuration and the components that move between them."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Exists, OuterRef, Q, QuerySet

from fleet.common.actor import Actor
from fleet.common.errors import NotFound
from fleet.models import Aircraft, AircraftType, Component, ComponentKind, Installation, LifeLimit, Position


def aircraft_list(actor: Actor, *, withdrawn: bool = False) -> QuerySet[Aircraft]:
    """The operator's aircraft by registration; withdrawn ones only when asked for."""
    rows = Aircraft.objects.filter(operator_id=actor.operator_id).select_related("aircraft_type", "base")
    return rows if withdrawn else rows.filter(withdrawn_on=None)


def aircraft_for(actor: Actor, registration: str) -> Aircraft:
    """One aircraft by registration, whatever its case; a stranger's is not found."""
    row = aircraft_list(actor, withdrawn=True).filter(registration__iexact=registration).first()
    if row is None:
        raise NotFound("aircraft_not_found", f"There is no aircraft {registration} here.")
    return row


def aircraft_by_id(actor: Actor, aircraft_id: int) -> Aircraft:
    """One aircraft by its key; a stranger's is not found."""
    row = aircraft_list(actor, withdrawn=True).filter(pk=aircraft_id).first()
    if row is None:
        raise NotFound("aircraft_not_found", "There is no such aircraft here.")
    return row


def aircraft_types(actor: Actor) -> QuerySet[AircraftType]:
    """The operator's types by name."""
    return AircraftType.objects.filter(operator_id=actor.operator_id).order_by("name")


def aircraft_type_for(actor: Actor, code: str) -> AircraftType:
    """One type by its code; a stranger's is not found."""
    row = aircraft_types(actor).filter(code=code).first()
    if row is None:
        raise NotFound("type_not_found", f"There is no type {code} here.")
    return row


def options_of(aircraft: Aircraft) -> frozenset[str]:
    """The codes of the options this aircraft has."""
    return frozenset(aircraft.options.values_list("code", flat=True))


def positions_of(aircraft: Aircraft) -> QuerySet[Position]:
    """The places this aircraft has: those of its type whose option is fitted, in order."""
    fitted = Q(needs_option=None) | Q(needs_option__in=aircraft.options.all())
    return (
        Position.objects.filter(fitted, aircraft_type_id=aircraft.aircraft_type_id)
        .select_related("kind", "needs_option")
        .order_by("order", "code")
    )


def position_for(aircraft: Aircraft, code: str) -> Position:
    """One place of this aircraft by its code."""
    row = positions_of(aircraft).filter(code=code).first()
    if row is None:
        raise NotFound("position_not_found", f"{aircraft.registration} has no position {code}.")
    return row


def outlets_of(aircraft: Aircraft, zones: tuple[str, ...]) -> QuerySet[Position]:
    """The outlets this aircraft has in these zones."""
    return positions_of(aircraft).filter(is_outlet=True, zone__in=zones)


def configuration_at(aircraft: Aircraft, at: datetime) -> QuerySet[Installation]:
    """What was fitted where at a moment, by position."""
    there = Q(fitted_at__lte=at) & (Q(removed_at=None) | Q(removed_at__gt=at))
    return (
        Installation.objects.filter(there, aircraft=aircraft)
        .select_related("component__kind", "position")
        .order_by("position__order", "position__code")
    )


def installation_history(aircraft: Aircraft) -> QuerySet[Installation]:
    """Everything that was ever fitted, newest first."""
    return (
        Installation.objects.filter(aircraft=aircraft)
        .select_related("component__kind", "position")
        .order_by("-fitted_at", "-id")
    )


def components(actor: Actor) -> QuerySet[Component]:
    """The operator's components by kind and serial number."""
    return (
        Component.objects.filter(operator_id=actor.operator_id)
        .select_related("kind")
        .order_by("kind__name", "serial_number", "id")
    )


def component_for(actor: Actor, component_id: int) -> Component:
    """One component; a stranger's is not found."""
    row = components(actor).filter(pk=component_id).first()
    if row is None:
        raise NotFound("component_not_found", "There is no such component here.")
    return row


def place_of(component: Component) -> tuple[str, str]:
    """Registration and words for where a component sits now; ("", "in store") where it sits nowhere."""
    row = (
        Installation.objects.filter(component=component, removed_at=None)
        .select_related("aircraft", "position")
        .first()
    )
    return (row.aircraft.registration, f"{row.position} on {row.aircraft}") if row else ("", "in store")


def components_in_store(actor: Actor, kind: ComponentKind) -> QuerySet[Component]:
    """Components of one kind that sit nowhere and are not scrapped: they can be fitted."""
    fitted = Installation.objects.filter(removed_at=None).values("component_id")
    return components(actor).filter(kind=kind, scrapped_on=None).exclude(pk__in=fitted)


def component_kinds(actor: Actor) -> QuerySet[ComponentKind]:
    """The operator's kinds of component by name."""
    return ComponentKind.objects.filter(operator_id=actor.operator_id).order_by("name")


def life_limits(actor: Actor) -> QuerySet[LifeLimit]:
    """The operator's life limits by kind and part number."""
    return (
        LifeLimit.objects.filter(operator_id=actor.operator_id)
        .select_related("kind")
        .order_by("kind__name", "part_number", "parameter")
    )


def awaiting_disposition(actor: Actor) -> QuerySet[Installation]:
    """The last removal of every life-limited part in store that has no disposition yet (14 CFR 43.10(c))."""
    any_number, own_number = Q(part_number=""), Q(part_number=OuterRef("component__part_number"))
    limited = LifeLimit.objects.filter(any_number | own_number, kind_id=OuterRef("component__kind_id"))
    later = Installation.objects.filter(
        component=OuterRef("component"), fitted_at__gte=OuterRef("removed_at")
    )
    return (
        Installation.objects.filter(
            Exists(limited),
            ~Exists(later),
            aircraft__operator_id=actor.operator_id,
            removed_at__isnull=False,
            disposition="",
            component__scrapped_on=None,
        )
        .select_related("aircraft", "position", "component__kind")
        .order_by("removed_at", "id")
    )
