"""Aircraft on the register, what sits in them now, at any moment, and ever."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api import house_shapes as shapes
from fleet.api.answers import EDIT_REFUSALS, IF_MATCH, KEY, PAGING, REFUSALS, paged
from fleet.api.base import ApiView, CommandView
from fleet.common.clock import now
from fleet.common.http import entity_tag
from fleet.models import Aircraft
from fleet.selectors.aircraft import aircraft_for, aircraft_list, configuration_at, installation_history
from fleet.selectors.meters import Counters
from fleet.services.registering import AircraftEntry, Opening, change_aircraft, register_aircraft


def tag_of(aircraft: Aircraft) -> str:
    """The entity tag of an aircraft on the register; counters move without it."""
    return entity_tag("aircraft", aircraft.pk, aircraft.version)


def entry_of(sent: dict[str, Any]) -> AircraftEntry:
    """An aircraft as sent."""
    return AircraftEntry(
        registration=sent["registration"],
        serial_number=sent["serial_number"],
        type_code=sent["aircraft_type"],
        base_code=sent["base"],
        manufactured_on=sent["manufactured_on"],
        option_codes=sent["options"],
        note=sent["note"],
        withdrawn_on=sent["withdrawn_on"],
    )


def answered(aircraft: Aircraft, status: int = 200) -> Response:
    """An aircraft with its entity tag."""
    headers = {"ETag": tag_of(aircraft), "Location": f"/api/v1/aircraft/{aircraft.registration}/"}
    return Response(shapes.AircraftAnswer(aircraft).data, status=status, headers=headers)


class AircraftListView(CommandView):
    """Aircraft of the operator."""

    @extend_schema(
        operation_id="aircraft_list",
        parameters=[shapes.AircraftAsked, *PAGING],
        responses={200: paged(shapes.AircraftAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Aircraft that fit, by registration; withdrawn ones when asked for."""
        wanted = self.query(shapes.AircraftAsked)
        rows = aircraft_list(self.actor, withdrawn=wanted["withdrawn"])
        if "base" in wanted:
            rows = rows.filter(base__code=wanted["base"])
        if "aircraft_type" in wanted:
            rows = rows.filter(aircraft_type__code=wanted["aircraft_type"])
        return self.page(
            rows.prefetch_related("options", "meters"), shapes.AircraftAnswer, ("registration", "id")
        )

    @extend_schema(
        operation_id="aircraft_register",
        parameters=[KEY],
        request=shapes.NewAircraftSent,
        responses={201: shapes.AircraftAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Put an aircraft on the register."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Register it once."""
        sent = self.parsed(shapes.NewAircraftSent)
        counters = Counters(sent["opening_minutes"], sent["opening_landings"], sent["opening_cycles"])
        opening = Opening(sent["opening_at"], counters)
        return answered(register_aircraft(actor=self.actor, entry=entry_of(sent), opening=opening), 201)


class AircraftView(ApiView):
    """One aircraft."""

    @extend_schema(operation_id="aircraft_get", responses={200: shapes.AircraftAnswer, **REFUSALS})
    def get(self, request: Request, registration: str) -> Response:
        """The aircraft with its entity tag."""
        return answered(aircraft_for(self.actor, registration))

    @extend_schema(
        operation_id="aircraft_change",
        parameters=[IF_MATCH],
        request=shapes.AircraftSent,
        responses={200: shapes.AircraftAnswer, **EDIT_REFUSALS},
    )
    def put(self, request: Request, registration: str) -> Response:
        """Change what the register says; everything is sent, what is left out is emptied."""
        aircraft = aircraft_for(self.actor, registration)
        self.must_match(tag_of(aircraft))
        entry = entry_of(self.parsed(shapes.AircraftSent))
        changed = change_aircraft(
            actor=self.actor, registration=registration, entry=entry, version=aircraft.version
        )
        return answered(changed)


class ConfigurationView(ApiView):
    """What sits where."""

    @extend_schema(
        operation_id="aircraft_configuration",
        parameters=[shapes.AtAsked],
        responses={200: shapes.InstallationAnswer(many=True), **REFUSALS},
    )
    def get(self, request: Request, registration: str) -> Response:
        """Everything that sat in the aircraft at a moment, by position."""
        aircraft = aircraft_for(self.actor, registration)
        rows = configuration_at(aircraft, self.query(shapes.AtAsked).get("at") or now())
        return Response(shapes.InstallationAnswer(rows.select_related("aircraft"), many=True).data)


class InstallationListView(ApiView):
    """Everything that was ever fitted to an aircraft."""

    @extend_schema(
        operation_id="aircraft_installations",
        parameters=PAGING,
        responses={200: paged(shapes.InstallationAnswer), **REFUSALS},
    )
    def get(self, request: Request, registration: str) -> Response:
        """Installations, newest first."""
        rows = installation_history(aircraft_for(self.actor, registration)).select_related("aircraft")
        rows = rows.select_related("component__kind", "position", "aircraft")
        return self.page(rows, shapes.InstallationAnswer, ("-fitted_at", "-id"))
