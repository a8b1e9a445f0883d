"""Sealed records: list, read, exact text, paper, check, amend; the aircraft's status and complete records."""

from __future__ import annotations

from django.http import FileResponse, HttpResponse
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api.base import ApiView
from fleet.common.clock import now
from fleet.common.http import none_match
from fleet.common.pdf.render import render
from fleet.selectors.aircraft import aircraft_for
from records.api import record_shapes as shapes
from records.api.run_shapes import ContentShape
from records.api.run_views import REFUSALS
from records.api.signing_views import NOT_ENTITLED, ProvenCommand
from records.models import Signature
from records.reports.export import Wanted, aircraft_archive
from records.reports.release import record_document
from records.reports.status import status_document
from records.reports.status_data import status_data
from records.selectors.signed import RecordQuery, record_for, records
from records.selectors.status_items import status_items
from records.selectors.verification import verify_aircraft
from records.services.amendments import Amendment, Draft, amend_record, amendment_content
from records.services.exports import note_export
from records.services.verification import verify_records
from scheduling.api.answers import KEY, MAKES_NO_SENSE, NOT_HERE, PAGING, asked, paged
from scheduling.selectors.status import status_of

PDF = "application/pdf"


def paper(content: bytes, name: str) -> HttpResponse:
    """A printable page, shown in the browser under its own name."""
    answer = HttpResponse(content, content_type=PDF)
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


class RecordListView(ApiView):
    """Records of the operator."""

    @extend_schema(
        operation_id="records_list",
        parameters=[
            asked("aircraft", "registration"),
            asked("procedure", "code of a procedure"),
            asked("verdict", "pass, fail, invalid…"),
            asked("kind", "work, inspection or amendment"),
            asked("search", "part of a number or title"),
            asked("since", "first day of completion, 2026-01-15"),
            asked("until", "last day of completion"),
            *PAGING,
        ],
        responses={200: paged(shapes.RecordRow), 422: MAKES_NO_SENSE},
    )
    def get(self, request: Request) -> Response:
        """Records that fit, newest first."""
        return self.page(
            records(self.actor, RecordQuery(**self.query(shapes.RecordFilter))), shapes.RecordRow
        )


class RecordView(ApiView):
    """One record."""

    @extend_schema(operation_id="records_read", responses={200: shapes.RecordShape, 404: NOT_HERE})
    def get(self, request: Request, number: str) -> Response:
        """One record in full."""
        record = record_for(self.actor, number)
        tag = f'"{record.digest}"'
        return Response(shapes.RecordShape(record).data, headers={"ETag": tag})


class CanonicalView(ApiView):
    """The exact text of a record."""

    @extend_schema(
        operation_id="records_canonical",
        responses={(200, "application/json"): OpenApiTypes.OBJECT, 404: NOT_HERE},
    )
    def get(self, request: Request, number: str) -> HttpResponse:
        """The sealed bytes themselves: their SHA-256 is the record's digest (also given as entity tag)."""
        record = record_for(self.actor, number)
        tag = f'"{record.digest}"'
        if none_match(request.headers.get("If-None-Match"), tag):
            return HttpResponse(status=304, headers={"ETag": tag})
        return HttpResponse(record.canonical.encode(), content_type="application/json", headers={"ETag": tag})


class RecordPaperView(ApiView):
    """A record on paper."""

    @extend_schema(operation_id="records_pdf", responses={(200, PDF): OpenApiTypes.BINARY, 404: NOT_HERE})
    def get(self, request: Request, number: str) -> HttpResponse:
        """The record as PDF, with its digest and the address where it is kept."""
        record = record_for(self.actor, number)
        address = request.build_absolute_uri(f"/records/{record.number}/")
        return paper(render(record_document(record, address)), record.number)


class RecordCheckView(ApiView):
    """Is a record and its chain whole?"""

    @extend_schema(operation_id="records_verify", responses={200: shapes.VerificationShape, 404: NOT_HERE})
    def get(self, request: Request, number: str) -> Response:
        """The chain this record belongs to, with everything that is wrong in words."""
        record = record_for(self.actor, number)
        return Response(shapes.VerificationShape(verify_aircraft(record.aircraft)).data)


class VerificationView(ApiView):
    """Are all records whole?"""

    @extend_schema(
        operation_id="verification", request=None, responses={200: shapes.VerificationShape(many=True)}
    )
    def post(self, request: Request) -> Response:
        """Check every record of the operator now; the trail keeps the outcome."""
        return Response(shapes.VerificationShape(verify_records(actor=self.actor), many=True).data)


class AmendmentContentView(ApiView):
    """What an amendment would bind."""

    @extend_schema(
        operation_id="records_amendment_content",
        request=shapes.AmendmentDraft,
        responses={200: ContentShape, **REFUSALS},
    )
    def post(self, request: Request, number: str) -> Response:
        """The amendment in full with its digest; nothing is kept."""
        draft = Draft(number, **self.parsed(shapes.AmendmentDraft))
        return Response(ContentShape(amendment_content(self.actor, draft)).data)


class AmendmentView(ProvenCommand):
    """Amending a record."""

    @extend_schema(
        operation_id="records_amend",
        parameters=[KEY],
        request=shapes.AmendmentShape,
        responses={201: shapes.RecordShape, 403: NOT_ENTITLED, **REFUSALS},
    )
    def post(self, request: Request, number: str) -> Response:
        """Seal an amendment of what was shown; the amended record stays as it is."""
        self.signer = self.prove(self.parsed(shapes.AmendmentShape))
        return super().post(request, number=number)

    def command(self, request: Request, number: str) -> Response:
        data = self.parsed(shapes.AmendmentShape)
        draft = Draft(number, data["reason"], data["text"])
        amendment = Amendment(draft, data["content_digest"], Signature.Proof.PASSWORD)
        record = amend_record(actor=self.signer, amendment=amendment)
        address = f"/api/v1/records/{record.number}/"
        return Response(shapes.RecordShape(record).data, status=201, headers={"Location": address})


class StatusItemsView(ApiView):
    """The status items of an aircraft."""

    @extend_schema(operation_id="aircraft_status_items", responses={200: shapes.StatusRow, 404: NOT_HERE})
    def get(self, request: Request, registration: str) -> Response:
        """All six status items of 14 CFR 91.417(a)(2)."""
        return Response(status_data(status_items(self.actor, aircraft_for(self.actor, registration))))


class StatusPaperView(ApiView):
    """The status of an aircraft on paper."""

    @extend_schema(
        operation_id="aircraft_status_pdf", responses={(200, PDF): OpenApiTypes.BINARY, 404: NOT_HERE}
    )
    def get(self, request: Request, registration: str) -> HttpResponse:
        """The status report as PDF."""
        aircraft = aircraft_for(self.actor, registration)
        status = status_of([aircraft.pk])[aircraft.pk]
        items = status_items(self.actor, aircraft)
        document = status_document(items, status, aircraft.operator.name, now())
        return paper(render(document), f"{aircraft.registration}-status")


class ExportView(ApiView):
    """The complete records of an aircraft."""

    @extend_schema(
        operation_id="aircraft_export",
        parameters=[asked("custody", "seller: after a sale the seller keeps the papers (14 CFR 91.419(b))")],
        responses={(200, "application/zip"): OpenApiTypes.BINARY, 404: NOT_HERE},
    )
    def get(self, request: Request, registration: str) -> FileResponse:
        """Everything kept of the aircraft as a ZIP file with a manifest; the trail notes that it was handed out."""
        aircraft = aircraft_for(self.actor, registration)
        address = request.build_absolute_uri("/").rstrip("/")
        wanted = Wanted(address, request.query_params.get("custody") == "seller")
        archive = aircraft_archive(self.actor, aircraft, wanted)
        note_export(actor=self.actor, aircraft=aircraft, records=archive.records, digest=archive.digest)
        answer = FileResponse(
            archive.file, as_attachment=True, filename=archive.name, content_type="application/zip"
        )
        answer["X-Manifest-SHA256"] = archive.digest
        return answer
