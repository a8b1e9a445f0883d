"""Procedures: list, read, draft, publish, withdraw."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema, extend_schema_field
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag
from scheduling.api.answers import FORBIDS, IF_MATCH, KEY, MAKES_NO_SENSE, NOT_HERE, STALE
from scheduling.api.tasks_shapes import ReasonShape
from scheduling.models import Procedure, ProcedureVersion
from scheduling.selectors.procedures import (
    history_of,
    procedure_for,
    procedures,
    shown_version,
    text_digest,
    version_for,
)
from scheduling.services.procedures import (
    Draft,
    discard_draft,
    publish_version,
    save_draft,
    withdraw_procedure,
)


class VersionShape(serializers.Serializer):
    """One text of a procedure."""

    procedure = serializers.CharField(source="procedure.code")
    number = serializers.IntegerField()
    state = serializers.CharField()
    content = serializers.JSONField()
    approved_reference = serializers.CharField()
    approved_revision = serializers.CharField()
    ata = serializers.CharField()
    consequence = serializers.CharField()
    minutes = serializers.IntegerField()
    people = serializers.IntegerField()
    needs_countersignature = serializers.BooleanField()
    is_inspection = serializers.BooleanField()
    change_note = serializers.CharField()
    written_by = serializers.CharField(source="written_by.full_name", allow_null=True, default=None)
    written_at = serializers.DateTimeField()
    first_used_at = serializers.DateTimeField(allow_null=True)


class VersionLine(serializers.Serializer):
    """One version in the history, and what it changed in words."""

    number = serializers.IntegerField(source="version.number")
    state = serializers.CharField(source="version.state")
    change_note = serializers.CharField(source="version.change_note")
    written_at = serializers.DateTimeField(source="version.written_at")
    differences = serializers.ListField(child=serializers.CharField())


class ProcedureBrief(serializers.Serializer):
    """A procedure in the list."""

    code = serializers.CharField()
    title = serializers.CharField()
    aircraft_type = serializers.CharField(source="aircraft_type.code", allow_null=True, default=None)
    withdrawn_on = serializers.DateField(allow_null=True)
    open_tasks = serializers.IntegerField()
    in_force = serializers.SerializerMethodField(help_text="number of the version in force")
    has_draft = serializers.SerializerMethodField()

    def get_in_force(self, procedure: Procedure) -> int | None:
        current = [v.number for v in procedure.versions.all() if v.state == "current"]
        return current[0] if current else None

    def get_has_draft(self, procedure: Procedure) -> bool:
        return any(version.state == "draft" for version in procedure.versions.all())


class ProcedureShape(ProcedureBrief):
    """A procedure with the text it shows and its history."""

    shown = serializers.SerializerMethodField()
    history = serializers.SerializerMethodField()

    @extend_schema_field(VersionShape)
    def get_shown(self, procedure: Procedure) -> dict[str, Any]:
        return VersionShape(shown_version(procedure)).data

    @extend_schema_field(VersionLine(many=True))
    def get_history(self, procedure: Procedure) -> list[dict[str, Any]]:
        return list(VersionLine(history_of(procedure.versions.all()), many=True).data)


class DraftShape(serializers.Serializer):
    """A whole procedure as somebody wants it."""

    title = serializers.CharField(max_length=120)
    content = serializers.DictField()
    approved_reference = serializers.CharField(max_length=120)
    approved_revision = serializers.CharField(max_length=40)
    ata = serializers.CharField(max_length=8)
    consequence = serializers.CharField(help_text="airworthiness, icing, operation or none")
    minutes = serializers.IntegerField()
    people = serializers.IntegerField(required=False, default=1)
    aircraft_type = serializers.CharField(required=False, default="", allow_blank=True)
    needs_countersignature = serializers.BooleanField(required=False, default=False)
    is_inspection = serializers.BooleanField(required=False, default=False)
    change_note = serializers.CharField(max_length=300, required=False, default="", allow_blank=True)


class NewDraftShape(DraftShape):
    """A procedure that is not there yet."""

    code = serializers.CharField(max_length=40)


def tag_of(procedure: Procedure) -> str:
    return entity_tag("procedure", procedure.code, text_digest(procedure))


def answer(view: ApiView, code: str, status: int = 200) -> Response:
    """The procedure as it stands, with its entity tag."""
    procedure = procedure_for(view.actor, code)
    headers = {"ETag": tag_of(procedure), "Location": f"/api/v1/procedures/{code}/"}
    return Response(ProcedureShape(procedure).data, status, headers=headers)


class ProcedureListView(CommandView):
    """Procedures of the operator."""

    @extend_schema(operation_id="procedures_list", responses={200: ProcedureBrief(many=True)})
    def get(self, request: Request) -> Response:
        """Every procedure, by code."""
        return Response(ProcedureBrief(procedures(self.actor), many=True).data)

    @extend_schema(
        operation_id="procedures_draft",
        parameters=[KEY],
        request=NewDraftShape,
        responses={201: ProcedureShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Begin a procedure, or replace its draft."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        version = save_draft(actor=self.actor, draft=Draft(**self.parsed(NewDraftShape)))
        return answer(self, version.procedure.code, 201)


class ProcedureView(ApiView):
    """One procedure."""

    @extend_schema(operation_id="procedures_read", responses={200: ProcedureShape, 404: NOT_HERE})
    def get(self, request: Request, code: str) -> Response:
        """The text in force (else the newest), the history, and the entity tag."""
        return answer(self, code)


class ProcedureDraftView(ApiView):
    """The draft of one procedure."""

    @extend_schema(
        operation_id="procedures_redraft",
        parameters=[IF_MATCH],
        request=DraftShape,
        responses={200: ProcedureShape, 412: STALE, 422: MAKES_NO_SENSE},
    )
    def put(self, request: Request, code: str) -> Response:
        """Save the draft; the text in force stays."""
        data = self.parsed(DraftShape)
        self.must_match(tag_of(procedure_for(self.actor, code)))
        save_draft(actor=self.actor, draft=Draft(code=code, **data))
        return answer(self, code)

    @extend_schema(
        operation_id="procedures_discard_draft",
        parameters=[IF_MATCH],
        request=None,
        responses={204: None, 409: FORBIDS, 412: STALE},
    )
    def delete(self, request: Request, code: str) -> Response:
        """Throw the draft away."""
        self.must_match(tag_of(procedure_for(self.actor, code)))
        discard_draft(actor=self.actor, code=code)
        return Response(status=204)


class ProcedurePublishView(CommandView):
    """Put a draft in force."""

    @extend_schema(
        operation_id="procedures_publish",
        parameters=[KEY],
        request=None,
        responses={200: ProcedureShape, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, code: str) -> Response:
        """Work begun from now on follows the draft."""
        return super().post(request, code=code)

    def command(self, request: Request, code: str) -> Response:
        publish_version(actor=self.actor, code=code)
        return answer(self, code)


class ProcedureWithdrawView(CommandView):
    """Take a procedure out of force."""

    @extend_schema(
        operation_id="procedures_withdraw",
        parameters=[KEY],
        request=ReasonShape,
        responses={200: ProcedureShape, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, code: str) -> Response:
        """Withdraw the procedure with a reason; refused (409) while something needs it."""
        return super().post(request, code=code)

    def command(self, request: Request, code: str) -> Response:
        reason = self.parsed(ReasonShape)["reason"]
        withdraw_procedure(actor=self.actor, code=code, reason=reason)
        return answer(self, code)


class ProcedureVersionView(ApiView):
    """One version of a procedure."""

    @extend_schema(operation_id="procedures_version", responses={200: VersionShape, 404: NOT_HERE})
    def get(self, request: Request, code: str, number: int) -> Response:
        """One version, whatever its state."""
        return Response(VersionShape(self._version(code, number)).data)

    def _version(self, code: str, number: int) -> ProcedureVersion:
        return version_for(self.actor, code, number)
