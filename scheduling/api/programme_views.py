"""The programme: its lines as versions, where they apply, and files that bring them in."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView, CommandView
from fleet.common.errors import Conflict, Invalid, Reason
from fleet.common.http import entity_tag
from scheduling.api import due_shapes
from scheduling.api import programme_shapes as shapes
from scheduling.api.answers import FORBIDS, IF_MATCH, KEY, MAKES_NO_SENSE, NOT_HERE, STALE, asked
from scheduling.models import Requirement
from scheduling.selectors.due_item import due_rows
from scheduling.selectors.programme import applied_ids, requirement_for, requirement_versions, requirements
from scheduling.services.applicability import Applied, apply_programme, apply_requirement
from scheduling.services.programme_import import Kind, Upload, import_programme
from scheduling.services.requirements import WrittenRequirement, retire_requirement, write_requirement

# The shape is published with the door that applies one line.
APPLIED_BY_CODE = {"type": "object", "additionalProperties": {"$ref": "#/components/schemas/AppliedShape"}}


def tag_of(row: Requirement) -> str:
    return entity_tag("requirement", row.code, f"{row.version}{'-retired' if row.retired_on else ''}")


def answer(row: Requirement, status: int = 200) -> Response:
    """The line with its entity tag."""
    headers = {"ETag": tag_of(row), "Location": f"/api/v1/requirements/{row.code}/"}
    return Response(shapes.RequirementShape(row).data, status, headers=headers)


class RequirementListView(CommandView):
    """The lines in force."""

    @extend_schema(
        operation_id="requirements_list",
        parameters=[asked("q", "part of code, title or source"), asked("ata", "chapter")],
        responses={200: shapes.RequirementShape(many=True)},
    )
    def get(self, request: Request) -> Response:
        """Every line in force, by chapter and code."""
        words = request.query_params
        rows = requirements(self.actor, q=words.get("q", ""), ata=words.get("ata", ""))
        return Response(shapes.RequirementShape(rows, many=True).data)

    @extend_schema(
        operation_id="requirements_write",
        parameters=[KEY],
        request=shapes.NewRequirement,
        responses={201: shapes.RequirementShape, 409: FORBIDS, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Write a line that is not there yet."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        wanted = WrittenRequirement(**self.parsed(shapes.NewRequirement))
        if requirement_versions(self.actor, wanted.code).exists():
            reason = Reason(
                "is there already", "code", wanted.code, "change that line, or choose another code"
            )
            raise Conflict("requirement_exists", reason.sentence(), reason)
        return answer(write_requirement(actor=self.actor, wanted=wanted, read_version=0), 201)


class RequirementView(ApiView):
    """One line."""

    @extend_schema(operation_id="requirements_read", responses={200: shapes.RequirementShape, 404: NOT_HERE})
    def get(self, request: Request, code: str) -> Response:
        """The current version, with its entity tag."""
        return answer(requirement_for(self.actor, code))

    @extend_schema(
        operation_id="requirements_rewrite",
        parameters=[IF_MATCH],
        request=shapes.RequirementChange,
        responses={200: shapes.RequirementShape, 404: NOT_HERE, 412: STALE, 422: MAKES_NO_SENSE},
    )
    def put(self, request: Request, code: str) -> Response:
        """Write the line's next version; what was last done moves along."""
        data = self.parsed(shapes.RequirementChange)
        known = requirement_for(self.actor, code)
        self.must_match(tag_of(known))
        wanted = WrittenRequirement(code=code, **data)
        return answer(write_requirement(actor=self.actor, wanted=wanted, read_version=known.version))


class RequirementVersionsView(ApiView):
    """The versions of one line."""

    @extend_schema(
        operation_id="requirements_versions",
        responses={200: shapes.RequirementShape(many=True), 404: NOT_HERE},
    )
    def get(self, request: Request, code: str) -> Response:
        """Every version, newest first."""
        requirement_for(self.actor, code)
        return Response(shapes.RequirementShape(requirement_versions(self.actor, code), many=True).data)


class RequirementItemsView(ApiView):
    """Where one line applies."""

    @extend_schema(
        operation_id="requirements_items",
        responses={200: due_shapes.DueRowShape(many=True), 404: NOT_HERE},
    )
    def get(self, request: Request, code: str) -> Response:
        """Every aircraft or component it applies to, and how it stands there."""
        requirement_for(self.actor, code)
        rows = due_rows(self.actor, applied_ids(self.actor, code))
        return Response(due_shapes.DueRowShape(rows, many=True).data)


def applied_answer(applied: Applied) -> Response:
    """What applying changed."""
    return Response(shapes.AppliedShape(applied).data)


class RequirementApplyView(CommandView):
    """Put a line where it belongs."""

    @extend_schema(
        operation_id="requirements_apply",
        parameters=[KEY],
        request=None,
        responses={200: shapes.AppliedShape, 404: NOT_HERE},
    )
    def post(self, request: Request, code: str) -> Response:
        """By type, options and kind of component; what makes no sense is left out with its reasons."""
        return super().post(request, code=code)

    def command(self, request: Request, code: str) -> Response:
        return applied_answer(apply_requirement(actor=self.actor, code=code))


class ProgrammeApplyView(CommandView):
    """Put every line where it belongs."""

    @extend_schema(
        operation_id="requirements_apply_all",
        parameters=[KEY],
        request=None,
        responses={200: APPLIED_BY_CODE},
    )
    def post(self, request: Request) -> Response:
        """As after a new aircraft came; the answer has one entry a line, by its code."""
        return super().post(request)

    def command(self, request: Request) -> Response:
        changed = apply_programme(actor=self.actor)
        return Response({code: shapes.AppliedShape(applied).data for code, applied in changed.items()})


class RequirementRetireView(CommandView):
    """Take a line out of the programme."""

    @extend_schema(
        operation_id="requirements_retire",
        parameters=[KEY],
        request=due_shapes.ReasonSent,
        responses={200: shapes.RequirementShape, 404: NOT_HERE, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request, code: str) -> Response:
        """With a reason; its items leave the due list, its history stays."""
        return super().post(request, code=code)

    def command(self, request: Request, code: str) -> Response:
        reason = self.parsed(due_shapes.ReasonSent)["reason"]
        return answer(retire_requirement(actor=self.actor, code=code, reason=reason))


class ProgrammeImportView(ApiView):
    """Files that bring a programme in."""

    @extend_schema(
        operation_id="programme_imports_send",
        request={"multipart/form-data": shapes.FileSent},
        responses={200: shapes.ImportedShape, 422: MAKES_NO_SENSE},
    )
    def post(self, request: Request) -> Response:
        """Look at a file (`dry_run`, the usual), or bring it in: all of it, or nothing and every fault."""
        found = import_programme(actor=self.actor, upload=upload_of(self.parsed(shapes.FileSent)))
        return Response(shapes.ImportedShape(found).data)


def upload_of(data: dict[str, Any]) -> Upload:
    """A file as sent."""
    mapping = data["mapping"]
    if not isinstance(mapping, dict) or not all(isinstance(head, str) for head in mapping.values()):
        reason = Reason("is no mapping", "mapping", str(mapping)[:60], 'write {"code": "No."}')
        raise Invalid("bad_file", reason.sentence(), reason)
    content = data["file"].read()
    return Upload(Kind(data["kind"]), data["file"].name, content, mapping, data["dry_run"], data["apply"])
