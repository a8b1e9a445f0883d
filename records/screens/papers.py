"""Papers and files: records, trends and status as PDF, a label, the complete records of an aircraft."""

from __future__ import annotations

from django.http import FileResponse, HttpRequest, HttpResponse
from django.urls import reverse
from django.views.generic import View

from fleet.common.clock import now
from fleet.common.pdf.labels import Label, render_labels
from fleet.common.pdf.render import render
from fleet.screens.base import ScreenMixin
from fleet.selectors.aircraft import aircraft_for
from records.reports.export import Wanted, aircraft_archive
from records.reports.release import record_document
from records.reports.status import status_document
from records.reports.trend import trend_document
from records.selectors.signed import record_for
from records.selectors.status_items import status_items
from records.selectors.trends import trend_for
from records.services.exports import note_export
from scheduling.models import Procedure
from scheduling.selectors.status import status_of


def paper(content: bytes, name: str) -> HttpResponse:
    """A PDF shown in the browser under its own name."""
    answer = HttpResponse(content, content_type="application/pdf")
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    return answer


class RecordPaper(ScreenMixin, View):
    """A record on paper; its square code leads to the page that checks it."""

    def get(self, request: HttpRequest, number: str) -> HttpResponse:
        """The record as PDF."""
        record = record_for(self.actor, number)
        address = request.build_absolute_uri(reverse("records:verify", args=[record.digest]))
        return paper(render(record_document(record, address)), record.number)


class TrendPaper(ScreenMixin, View):
    """A trend on paper."""

    def get(self, request: HttpRequest, registration: str, procedure: str, point: str) -> HttpResponse:
        """The trend as PDF."""
        trend = trend_for(self.actor, registration, procedure, point)
        known = Procedure.objects.filter(operator_id=self.actor.operator_id, code=procedure).first()
        title = known.title if known else procedure
        document = trend_document(trend, title, trend.aircraft.operator.name, now())
        return paper(render(document), f"{trend.aircraft.registration}-{procedure}-{trend.watched.key}")


class StatusPaper(ScreenMixin, View):
    """The status of an aircraft on paper: the six items its owner keeps."""

    def get(self, request: HttpRequest, registration: str) -> HttpResponse:
        """The status report as PDF."""
        aircraft = aircraft_for(self.actor, registration)
        status = status_of([aircraft.pk])[aircraft.pk]
        document = status_document(status_items(self.actor, aircraft), status, aircraft.operator.name, now())
        return paper(render(document), f"{aircraft.registration}-status")


class AircraftLabel(ScreenMixin, View):
    """The label of one aircraft."""

    def get(self, request: HttpRequest, registration: str) -> HttpResponse:
        """One label as PDF; its square code opens the aircraft's page."""
        aircraft = aircraft_for(self.actor, registration)
        address = request.build_absolute_uri(reverse("records:aircraft", args=[aircraft.registration]))
        words = (aircraft.registration, aircraft.aircraft_type.name, f"S/N {aircraft.serial_number}")
        return paper(render_labels([Label(words, address)]), f"{aircraft.registration}-label")


class AircraftExport(ScreenMixin, View):
    """The complete records of an aircraft, handed out as one file; the trail notes it, so it is a button."""

    def post(self, request: HttpRequest, registration: str) -> FileResponse:
        """Everything kept of the aircraft, with a manifest."""
        aircraft = aircraft_for(self.actor, registration)
        address = request.build_absolute_uri("/").rstrip("/")
        wanted = Wanted(address, request.POST.get("custody") == "seller")
        archive = aircraft_archive(self.actor, aircraft, wanted)
        note_export(actor=self.actor, aircraft=aircraft, records=archive.records, digest=archive.digest)
        return FileResponse(
            archive.file, as_attachment=True, filename=archive.name, content_type="application/zip"
        )
