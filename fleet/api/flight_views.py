"""Meters with their readings and corrections, flights, and flight files.

What falls due is worked out again when its own doors are next asked, or by their clock.
"""

from __future__ import annotations

import json
from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api import flight_shapes as shapes
from fleet.api.answers import KEY, PAGING, REFUSALS, paged
from fleet.api.base import ApiView, CommandView
from fleet.api.house_shapes import WhySent
from fleet.common.errors import wrong
from fleet.models import Reading
from fleet.selectors.aircraft import aircraft_for, component_for
from fleet.selectors.flight_files import import_batch_for, import_batches
from fleet.selectors.meters import flight_for, flights, meter_for, meters, readings
from fleet.services.flight_import import (
    FlightFileInput,
    Newcomers,
    check_flight_file,
    import_flight_file,
)
from fleet.services.meters import (
    NewFlight,
    NewReading,
    correct_reading,
    post_flight,
    post_reading,
    void_flight,
)


class MeterListView(ApiView):
    """Meters of the operator."""

    @extend_schema(
        operation_id="meters_list",
        parameters=[shapes.MetersAsked, *PAGING],
        responses={200: paged(shapes.MeterAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Meters of one aircraft, one component, or all."""
        wanted, rows = self.query(shapes.MetersAsked), meters(self.actor)
        if "aircraft" in wanted:
            rows = rows.filter(aircraft=aircraft_for(self.actor, wanted["aircraft"]))
        if "component" in wanted:
            rows = rows.filter(component=component_for(self.actor, wanted["component"]))
        return self.page(rows, shapes.MeterAnswer, "id")


class ReadingListView(CommandView):
    """Readings of a meter."""

    @extend_schema(
        operation_id="meters_readings",
        parameters=PAGING,
        responses={200: paged(shapes.ReadingAnswer), **REFUSALS},
    )
    def get(self, request: Request, meter_id: int) -> Response:
        """Everything that was stated about the meter, newest first."""
        return self.page(readings(meter_for(self.actor, meter_id)), shapes.ReadingAnswer, ("-at", "-id"))

    @extend_schema(
        operation_id="meters_post_reading",
        parameters=[KEY],
        request=shapes.ReadingSent,
        responses={201: shapes.ReadingAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """State what the meter showed."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """State it once."""
        reading = NewReading(**url, **self.parsed(shapes.ReadingSent))
        return read_answer(post_reading(actor=self.actor, reading=reading))


def read_answer(reading: Reading) -> Response:
    """A reading that was just posted."""
    return Response(shapes.ReadingAnswer(reading).data, status=201)


class CorrectionView(CommandView):
    """Corrections of a meter."""

    @extend_schema(
        operation_id="meters_correct",
        parameters=[KEY],
        request=shapes.CorrectionSent,
        responses={201: shapes.ReadingAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Put the meter right, up or down, with a reason."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Correct it once."""
        reading = NewReading(**url, **self.parsed(shapes.CorrectionSent))
        return read_answer(correct_reading(actor=self.actor, reading=reading))


class FlightListView(CommandView):
    """Flights of the operator."""

    @extend_schema(
        operation_id="flights_list",
        parameters=[shapes.FlightsAsked, *PAGING],
        responses={200: paged(shapes.FlightAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Flights that fit, newest first; void ones included."""
        wanted, rows = self.query(shapes.FlightsAsked), flights(self.actor)
        if "aircraft" in wanted:
            rows = rows.filter(aircraft=aircraft_for(self.actor, wanted["aircraft"]))
        for name, lookup in (("since", "day__gte"), ("until", "day__lte"), ("batch", "batch_id")):
            if name in wanted:
                rows = rows.filter(**{lookup: wanted[name]})
        return self.page(rows, shapes.FlightAnswer, ("-off_at", "-id"))

    @extend_schema(
        operation_id="flights_post",
        parameters=[KEY],
        request=shapes.FlightSent,
        responses={201: shapes.FlightAnswer, 200: shapes.FlightAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Post a flight; 200 where the same reference was posted before."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Post it once."""
        sent = self.parsed(shapes.FlightSent)
        aircraft = aircraft_for(self.actor, sent.pop("aircraft"))
        entry, was_there = post_flight(actor=self.actor, flight=NewFlight(aircraft.pk, **sent))
        headers = {"Location": f"/api/v1/flights/{entry.pk}/"}
        return Response(shapes.FlightAnswer(entry).data, status=200 if was_there else 201, headers=headers)


class FlightView(ApiView):
    """One flight."""

    @extend_schema(operation_id="flights_get", responses={200: shapes.FlightAnswer, **REFUSALS})
    def get(self, request: Request, flight_id: int) -> Response:
        """The flight."""
        return Response(shapes.FlightAnswer(flight_for(self.actor, flight_id)).data)


class FlightVoidView(CommandView):
    """A wrong flight."""

    @extend_schema(
        operation_id="flights_void",
        parameters=[KEY],
        request=WhySent,
        responses={200: shapes.FlightAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Take a wrong flight out of the counters, with a reason; it stays in the list."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Void it once."""
        return Response(
            shapes.FlightAnswer(void_flight(actor=self.actor, **url, **self.parsed(WhySent))).data
        )


class FlightImportListView(ApiView):
    """Flight files. Repeating one is harmless by itself: what is there already changes nothing."""

    parser_classes = [MultiPartParser]

    @extend_schema(
        operation_id="flight_imports_list",
        parameters=PAGING,
        responses={200: paged(shapes.ImportBatchAnswer)},
    )
    def get(self, request: Request) -> Response:
        """Files that were imported, newest first."""
        return self.page(import_batches(self.actor), shapes.ImportBatchAnswer, ("-imported_at", "-id"))

    @extend_schema(
        operation_id="flight_imports_send",
        request={"multipart/form-data": shapes.FlightFileSent},
        responses={201: shapes.ImportReportAnswer, 200: shapes.ImportReportAnswer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Import a file, all or nothing (201), or say what importing would do (`dry_run`, 200)."""
        sent = self.parsed(shapes.FlightFileSent)
        file = FlightFileInput(
            sent["file"].name,
            sent["file"].file,
            columns_sent(sent),
            sent["leave_out_bad_rows"],
            newcomers_sent(sent),
        )
        act = check_flight_file if sent["dry_run"] else import_flight_file
        report = act(actor=self.actor, file=file)
        status = 201 if report.batch_id else 200
        return Response(shapes.ImportReportAnswer(report.as_dict()).data, status=status)


def columns_sent(sent: dict[str, Any]) -> dict[str, str]:
    """The columns as JSON object of text, also where the form sent it as text."""
    columns = sent.get("columns") or {}
    try:
        columns = json.loads(columns) if isinstance(columns, str) else columns
    except ValueError:
        columns = None
    if not isinstance(columns, dict) or not all(isinstance(value, str) for value in columns.values()):
        raise wrong(
            "columns", sent.get("columns"), "is no JSON object of text", 'send {"duration": "Air time"}'
        )
    return columns


def newcomers_sent(sent: dict[str, Any]) -> Newcomers | None:
    """Type and base for unknown aircraft: both or neither."""
    codes = sent.get("create_type", ""), sent.get("create_base", "")
    if not any(codes):
        return None
    if not all(codes):
        raise wrong("create_base", "", "is missing", "send create_type and create_base, or neither")
    return Newcomers(*codes)


class FlightImportView(ApiView):
    """One imported file."""

    @extend_schema(operation_id="flight_imports_get", responses={200: shapes.ImportBatchAnswer, **REFUSALS})
    def get(self, request: Request, batch_id: int) -> Response:
        """Who brought it, how its columns were read, what came in."""
        return Response(shapes.ImportBatchAnswer(import_batch_for(self.actor, batch_id)).data)
