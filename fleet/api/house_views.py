"""Bases, types with options and positions, kinds of component."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api import house_shapes as shapes
from fleet.api.answers import EDIT_REFUSALS, IF_MATCH, KEY, PAGING, REFUSALS, paged
from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag
from fleet.models import AircraftType, Base
from fleet.selectors.aircraft import aircraft_type_for, aircraft_types, component_kinds
from fleet.selectors.people import base_for, bases
from fleet.services.house import (
    BaseEntry,
    PositionEntry,
    add_base,
    add_kind,
    add_option,
    add_position,
    add_type,
    change_base,
    change_position,
    rename_type,
)


def base_answer(base: Base, status: int = 200) -> Response:
    """A base with its entity tag."""
    headers = {"ETag": base_tag(base), "Location": f"/api/v1/bases/{base.code}/"}
    return Response(shapes.BaseAnswer(base).data, status=status, headers=headers)


def base_tag(base: Base) -> str:
    """The entity tag of a base."""
    return entity_tag("base", base.pk, base.version)


def base_entry(sent: dict[str, Any]) -> BaseEntry:
    """A base as sent."""
    start, end = shapes.season(sent.pop("season_start", None)), shapes.season(sent.pop("season_end", None))
    return BaseEntry(season_start=start, season_end=end, **sent)


class BaseListView(CommandView):
    """Bases of the operator."""

    @extend_schema(operation_id="bases_list", parameters=PAGING, responses={200: paged(shapes.BaseAnswer)})
    def get(self, request: Request) -> Response:
        """Every base, by code."""
        return self.page(bases(self.actor), shapes.BaseAnswer, ("code", "id"))

    @extend_schema(
        operation_id="bases_add",
        parameters=[KEY],
        request=shapes.BaseSent,
        responses={201: shapes.BaseAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Open a base."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Open it once."""
        return base_answer(add_base(actor=self.actor, entry=base_entry(self.parsed(shapes.BaseSent))), 201)


class BaseView(ApiView):
    """One base."""

    @extend_schema(operation_id="bases_get", responses={200: shapes.BaseAnswer, **REFUSALS})
    def get(self, request: Request, code: str) -> Response:
        """The base with its entity tag."""
        return base_answer(base_for(self.actor, code))

    @extend_schema(
        operation_id="bases_change",
        parameters=[IF_MATCH],
        request=shapes.BaseSent,
        responses={200: shapes.BaseAnswer, **EDIT_REFUSALS},
    )
    def put(self, request: Request, code: str) -> Response:
        """Change the base; its code stays."""
        base = base_for(self.actor, code)
        self.must_match(base_tag(base))
        entry = base_entry(self.parsed(shapes.BaseSent))
        return base_answer(change_base(actor=self.actor, code=code, entry=entry, version=base.version))


def type_tag(row: AircraftType) -> str:
    """The entity tag of a type: options and positions belong to it."""
    return entity_tag("aircraft-type", row.pk, row.version)


class TypeDoor(CommandView):
    """What the doors of types share."""

    def answered(self, code: str, status: int = 200) -> Response:
        """The type in full, with its entity tag."""
        row = aircraft_type_for(self.actor, code)
        headers = {"ETag": type_tag(row), "Location": f"/api/v1/aircraft-types/{row.code}/"}
        data = {
            "code": row.code,
            "name": row.name,
            "version": row.version,
            "options": row.options.all(),
            "positions": row.positions.select_related("kind", "needs_option"),
        }
        return Response(shapes.TypeAnswer(data).data, status=status, headers=headers)


class TypeListView(TypeDoor):
    """Types of aircraft."""

    @extend_schema(
        operation_id="aircraft_types_list", parameters=PAGING, responses={200: paged(shapes.CodeAndName)}
    )
    def get(self, request: Request) -> Response:
        """Every type, by code."""
        return self.page(aircraft_types(self.actor), shapes.CodeAndName, ("code", "id"))

    @extend_schema(
        operation_id="aircraft_types_add",
        parameters=[KEY],
        request=shapes.CodeAndName,
        responses={201: shapes.TypeAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Describe a type."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Describe it once."""
        return self.answered(add_type(actor=self.actor, **self.parsed(shapes.CodeAndName)).code, 201)


class TypeView(TypeDoor):
    """One type."""

    http_method_names = ["get", "patch", "head", "options"]

    @extend_schema(operation_id="aircraft_types_get", responses={200: shapes.TypeAnswer, **REFUSALS})
    def get(self, request: Request, code: str) -> Response:
        """The type with its options and positions."""
        return self.answered(code)

    @extend_schema(
        operation_id="aircraft_types_change",
        parameters=[IF_MATCH],
        request=shapes.NameSent,
        responses={200: shapes.TypeAnswer, **EDIT_REFUSALS},
    )
    def patch(self, request: Request, code: str) -> Response:
        """Give the type another name."""
        row = aircraft_type_for(self.actor, code)
        self.must_match(type_tag(row))
        name = self.parsed(shapes.NameSent)["name"]
        rename_type(actor=self.actor, code=code, name=name, version=row.version)
        return self.answered(code)


class OptionListView(TypeDoor):
    """Options of a type."""

    @extend_schema(
        operation_id="aircraft_types_add_option",
        parameters=[KEY],
        request=shapes.CodeAndName,
        responses={201: shapes.TypeAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Describe an option."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Describe it once."""
        add_option(actor=self.actor, type_code=url["code"], **self.parsed(shapes.CodeAndName))
        return self.answered(url["code"], 201)


class PositionListView(TypeDoor):
    """Positions of a type."""

    @extend_schema(
        operation_id="aircraft_types_add_position",
        parameters=[KEY],
        request=shapes.PositionSent,
        responses={201: shapes.TypeAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Describe a position."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Describe it once."""
        entry = position_entry(self.parsed(shapes.PositionSent))
        add_position(actor=self.actor, type_code=url["code"], entry=entry)
        return self.answered(url["code"], 201)


def position_entry(sent: dict[str, Any]) -> PositionEntry:
    """A position as sent."""
    return PositionEntry(kind_code=sent.pop("kind"), **sent)


class PositionView(TypeDoor):
    """One position of a type."""

    http_method_names = ["put", "head", "options"]

    @extend_schema(
        operation_id="aircraft_types_change_position",
        parameters=[IF_MATCH],
        request=shapes.PositionSent,
        responses={200: shapes.TypeAnswer, **EDIT_REFUSALS},
    )
    def put(self, request: Request, code: str, position: str) -> Response:
        """Change a position; its code stays. The entity tag is the type's."""
        row = aircraft_type_for(self.actor, code)
        self.must_match(type_tag(row))
        entry = position_entry({**self.parsed(shapes.PositionSent), "code": position})
        change_position(actor=self.actor, type_code=code, entry=entry, version=row.version)
        return self.answered(code)


class KindListView(CommandView):
    """Kinds of component."""

    @extend_schema(
        operation_id="component_kinds_list",
        parameters=PAGING,
        responses={200: paged(shapes.ComponentKindSent)},
    )
    def get(self, request: Request) -> Response:
        """Every kind, by code."""
        return self.page(component_kinds(self.actor), shapes.ComponentKindSent, ("code", "id"))

    @extend_schema(
        operation_id="component_kinds_add",
        parameters=[KEY],
        request=shapes.ComponentKindSent,
        responses={201: shapes.ComponentKindSent, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Describe a kind."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Describe it once."""
        kind = add_kind(actor=self.actor, **self.parsed(shapes.ComponentKindSent))
        return Response(shapes.ComponentKindSent(kind).data, status=201)
