"""What the phone's bundle and outbox look like on the wire."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from records.api.run_shapes import RunShape
from records.models import SignedRecord
from records.selectors.bundle import TaskPiece
from records.selectors.bundle_texts import readings_of
from scheduling.api.tasks_shapes import PersonShape, TaskShape


class PersonOfBundle(serializers.Serializer):
    """Whose bundle it is."""

    id = serializers.IntegerField(source="user_id", allow_null=True)
    name = serializers.CharField()
    roles = serializers.ListField(child=serializers.CharField())


class ProcedureOfTask(serializers.Serializer):
    """The text a task follows, cut to the aircraft's options."""

    code = serializers.CharField(source="version.procedure.code")
    title = serializers.CharField(source="version.procedure.title")
    version = serializers.IntegerField(source="version.number")
    approved_reference = serializers.CharField(source="version.approved_reference")
    approved_revision = serializers.CharField(source="version.approved_revision")
    ata = serializers.CharField(source="version.ata")
    minutes = serializers.IntegerField(source="version.minutes")
    people = serializers.IntegerField(source="version.people")
    needs_countersignature = serializers.BooleanField(source="version.needs_countersignature")
    content = serializers.JSONField(source="text")


class ReadingThen(serializers.Serializer):
    """One reading of the previous time."""

    point = serializers.CharField()
    name = serializers.CharField()
    value = serializers.CharField()
    unit = serializers.CharField()
    allowed = serializers.CharField()
    verdict = serializers.CharField()
    margin = serializers.CharField()


class PreviousShape(serializers.Serializer):
    """The previous record of the same procedure on the same aircraft."""

    record = serializers.CharField(source="number")
    completed_on = serializers.DateField()
    verdict = serializers.CharField()
    readings = serializers.SerializerMethodField()

    @extend_schema_field(ReadingThen(many=True))
    def get_readings(self, record: SignedRecord) -> list[dict[str, str]]:
        return readings_of(record)


class SlotOfTask(serializers.Serializer):
    """When and where the published plan has a task; `is_mine`: the reader is one of its people."""

    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    bay = serializers.CharField(allow_blank=True)
    is_mine = serializers.BooleanField()


class ShiftOfPerson(serializers.Serializer):
    """The shift the person is in, else their next one."""

    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    base = serializers.CharField(source="base.code")
    base_name = serializers.CharField(source="base.name")
    zone = serializers.CharField(source="base.zone")


class ToSignShape(serializers.Serializer):
    """A finished run that waits for a signature; `is_mine`: the reader may give it."""

    run = serializers.IntegerField(source="run.pk")
    key = serializers.CharField(source="run.key")
    aircraft = serializers.CharField(source="run.aircraft.registration")
    title = serializers.CharField(source="run.task.title")
    performer = serializers.CharField(source="run.performer.full_name")
    finished_at = serializers.DateTimeField(source="run.finished_at")
    verdict = serializers.CharField(source="run.verdict")
    meaning = serializers.CharField()
    is_mine = serializers.BooleanField()


class TaskOfBundle(serializers.Serializer):
    """One task with everything working on it needs."""

    task = TaskShape()
    slot = SlotOfTask(allow_null=True)
    procedure = serializers.SerializerMethodField()
    run = RunShape(allow_null=True)
    previous = PreviousShape(allow_null=True)

    @extend_schema_field(ProcedureOfTask(allow_null=True))
    def get_procedure(self, piece: TaskPiece) -> dict[str, Any] | None:
        return dict(ProcedureOfTask(piece).data) if piece.version else None


class PlaceShape(serializers.Serializer):
    """A place on the aircraft; outlets with where they stand on the map, in per cent."""

    code = serializers.CharField()
    name = serializers.CharField()
    kind = serializers.CharField()
    zone = serializers.CharField()
    side = serializers.CharField()
    order = serializers.IntegerField()
    is_outlet = serializers.BooleanField()
    map_x = serializers.IntegerField(allow_null=True)
    map_y = serializers.IntegerField(allow_null=True)


class AircraftOfBundle(serializers.Serializer):
    """An aircraft with its options and places."""

    id = serializers.IntegerField(source="aircraft.pk")
    registration = serializers.CharField(source="aircraft.registration")
    type = serializers.CharField(source="aircraft.aircraft_type.code")
    type_name = serializers.CharField(source="aircraft.aircraft_type.name")
    base = serializers.CharField(source="aircraft.base.code")
    base_name = serializers.CharField(source="aircraft.base.name")
    zone = serializers.CharField(source="aircraft.base.zone")
    options = serializers.ListField(child=serializers.CharField())
    positions = PlaceShape(many=True)


class ToolShape(serializers.Serializer):
    """A piece of equipment and whether it may be used today."""

    id = serializers.IntegerField(source="equipment.pk")
    code = serializers.CharField(source="equipment.code")
    name = serializers.CharField(source="equipment.name")
    kind = serializers.CharField(source="equipment.kind")
    base = serializers.CharField(source="equipment.base.code")
    unit = serializers.CharField(source="equipment.unit")
    resolution = serializers.CharField(source="equipment.resolution")
    is_usable = serializers.BooleanField()
    words = serializers.CharField()
    calibration_due = serializers.DateField(allow_null=True)


class DensityShape(serializers.Serializer):
    """One row of a lot's density table, as text."""

    celsius = serializers.CharField()
    grams_per_ml = serializers.CharField()


class LotShape(serializers.Serializer):
    """A fluid lot and whether it may be used today."""

    id = serializers.IntegerField(source="lot.pk")
    specification = serializers.CharField(source="lot.specification")
    batch = serializers.CharField(source="lot.batch")
    base = serializers.CharField(source="lot.base.code")
    expires_on = serializers.DateField(source="lot.expires_on")
    densities = DensityShape(many=True, source="lot.density_points.all")
    is_usable = serializers.BooleanField()
    words = serializers.CharField()


class KindOfBundle(serializers.Serializer):
    """A kind of event that may be reported."""

    code = serializers.CharField()
    name = serializers.CharField()
    change = serializers.CharField()
    component_kinds = serializers.ListField(child=serializers.CharField())
    needs_position = serializers.BooleanField()


class BundleShape(serializers.Serializer):
    """One person's work with all that it needs."""

    made_at = serializers.DateTimeField()
    day = serializers.DateField()
    shift = ShiftOfPerson(allow_null=True)
    to_sign = ToSignShape(many=True)
    person = PersonOfBundle()
    tasks = TaskOfBundle(many=True)
    aircraft = AircraftOfBundle(many=True)
    equipment = ToolShape(many=True)
    lots = LotShape(many=True)
    people = PersonShape(many=True)
    event_kinds = KindOfBundle(many=True)


class OutboxShape(serializers.Serializer):
    """The phone's outbox. Each command: id, kind, captured_at, body; a bad one is answered, not refused whole."""

    device = serializers.CharField(max_length=50)
    sent_at = serializers.DateTimeField()
    commands = serializers.ListField(child=serializers.JSONField())


class WhyNotShape(serializers.Serializer):
    """Why a command was not carried out."""

    detail = serializers.CharField()
    field = serializers.CharField()
    value = serializers.CharField()
    remedy = serializers.CharField()


class ResultShape(serializers.Serializer):
    """What became of one command: applied, repeated, conflict or refused, in words."""

    id = serializers.CharField()
    outcome = serializers.CharField()
    words = serializers.CharField()
    code = serializers.CharField()
    reasons = WhyNotShape(many=True)
    body = serializers.JSONField()


class SyncedShape(serializers.Serializer):
    """The answers in the order of the commands; `clock_seconds` above zero: the phone's clock is behind."""

    received_at = serializers.DateTimeField()
    clock_seconds = serializers.IntegerField()
    results = ResultShape(many=True)
