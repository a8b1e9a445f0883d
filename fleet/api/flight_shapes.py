"""Shapes of meters, readings, flights and flight files."""

from __future__ import annotations

from rest_framework import serializers as s

from fleet.flight_file.columns import FIELDS, Numbers, Zone
from fleet.models import Meter


class MeterAnswer(s.Serializer):
    """A counter: minutes for time, numbers for the rest."""

    id = s.IntegerField()
    kind = s.CharField()
    value = s.IntegerField()
    as_of = s.DateTimeField(allow_null=True)
    read_at = s.DateTimeField(allow_null=True)
    aircraft = s.SerializerMethodField()
    component = s.IntegerField(source="component_id", allow_null=True)

    def get_aircraft(self, meter: Meter) -> str:
        """The registration, empty for a component's own meter."""
        return meter.aircraft.registration if meter.aircraft else ""


class ReadingSent(s.Serializer):
    """What a meter showed."""

    at = s.DateTimeField()
    value = s.IntegerField()


class CorrectionSent(ReadingSent):
    """What a meter shows rightly, and what was wrong."""

    reason = s.CharField(max_length=200)


class ReadingAnswer(s.Serializer):
    """A statement about a meter."""

    id = s.IntegerField()
    at = s.DateTimeField()
    value = s.IntegerField()
    kind = s.CharField()
    reason = s.CharField()
    posted_at = s.DateTimeField()


class FlightSent(s.Serializer):
    """A flight: minutes from leaving the surface to touching it. The reference makes sending it twice harmless."""

    aircraft = s.CharField(max_length=12)
    off_at = s.DateTimeField()
    minutes = s.IntegerField()
    landings = s.IntegerField(default=1)
    cycles = s.IntegerField(default=1)
    reference = s.CharField(max_length=80)


class FlightAnswer(s.Serializer):
    """A flight."""

    id = s.IntegerField()
    aircraft = s.CharField(source="aircraft.registration")
    day = s.DateField()
    off_at = s.DateTimeField()
    minutes = s.IntegerField()
    landings = s.IntegerField()
    cycles = s.IntegerField()
    reference = s.CharField()
    batch = s.IntegerField(source="batch_id", allow_null=True)
    voided_at = s.DateTimeField(allow_null=True)
    void_reason = s.CharField()


class FlightsAsked(s.Serializer):
    """Which flights."""

    aircraft = s.CharField(required=False)
    since = s.DateField(required=False)
    until = s.DateField(required=False)
    batch = s.IntegerField(required=False)


class MetersAsked(s.Serializer):
    """Which meters."""

    aircraft = s.CharField(required=False)
    component = s.IntegerField(required=False)


class FlightFileSent(s.Serializer):
    """A CSV file with a heading, and how to take it. Columns that are not named are guessed."""

    file = s.FileField()
    dry_run = s.BooleanField(default=False, help_text="say what would happen and write nothing")
    leave_out_bad_rows = s.BooleanField(default=False)
    columns = s.JSONField(
        required=False,
        help_text=f"heading by field: {', '.join(FIELDS)}; zone: {', '.join(Zone)}; numbers: {', '.join(Numbers)}",
    )
    create_type = s.CharField(
        max_length=40, required=False, help_text="type of unknown aircraft, to create them"
    )
    create_base = s.CharField(max_length=20, required=False, help_text="base of unknown aircraft")


class CellErrorAnswer(s.Serializer):
    """A cell that makes no sense; the heading is row 1."""

    row = s.IntegerField()
    column = s.CharField()
    value = s.CharField(allow_blank=True)
    detail = s.CharField()
    remedy = s.CharField()


class ImportReportAnswer(s.Serializer):
    """What a file holds and what came, or would come, of it."""

    filename = s.CharField()
    heading = s.ListField(child=s.CharField(allow_blank=True))
    columns = s.DictField(child=s.CharField(allow_blank=True))
    rows = s.IntegerField()
    new = s.IntegerField()
    repeated = s.IntegerField()
    bad = s.IntegerField()
    minutes = s.IntegerField()
    landings = s.IntegerField()
    first_day = s.DateField(allow_null=True)
    last_day = s.DateField(allow_null=True)
    aircraft = s.IntegerField()
    created = s.ListField(child=s.CharField())
    errors = CellErrorAnswer(many=True)  # type: ignore[assignment]
    error_count = s.IntegerField()
    batch = s.IntegerField(allow_null=True)


class ImportBatchAnswer(s.Serializer):
    """A file that was imported."""

    id = s.IntegerField()
    filename = s.CharField()
    digest = s.CharField(help_text="SHA-256 of the file")
    mapping = s.DictField(child=s.CharField(allow_blank=True))
    rows = s.IntegerField()
    imported = s.IntegerField()
    repeated = s.IntegerField()
    left_out = s.IntegerField()
    imported_at = s.DateTimeField()
