"""What events and their kinds look like on the wire."""

from __future__ import annotations

from rest_framework import serializers

from scheduling.api.tasks_shapes import TaskBrief


class EventShape(serializers.Serializer):
    """One event as it was reported."""

    id = serializers.IntegerField()
    aircraft = serializers.CharField(source="aircraft.registration")
    kind = serializers.CharField(source="kind.code")
    kind_name = serializers.CharField(source="kind.name")
    at = serializers.DateTimeField()
    position = serializers.CharField(source="position.code", allow_null=True, default=None)
    component_off = serializers.IntegerField(source="component_off_id", allow_null=True)
    component_on = serializers.IntegerField(source="component_on_id", allow_null=True)
    note = serializers.CharField()
    detail = serializers.JSONField()
    has_photo = serializers.SerializerMethodField()
    key = serializers.CharField()
    reported_by = serializers.CharField(source="reported_by_name")
    reported_at = serializers.DateTimeField()

    def get_has_photo(self, event: object) -> bool:
        return bool(getattr(event, "photo", None))


class ReportedShape(serializers.Serializer):
    """What came of a report: tasks raised, open tasks joined, notes in words."""

    event = EventShape()
    raised = TaskBrief(many=True)
    joined = TaskBrief(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    repeated = serializers.BooleanField()


class TaskOfEvent(serializers.Serializer):
    """A task an event led to, and why."""

    task = TaskBrief()
    why = serializers.CharField()


class StoryShape(serializers.Serializer):
    """An event with all it led to, and the rules that came near."""

    event = EventShape()
    raised = TaskOfEvent(many=True)
    joined = TaskOfEvent(many=True)
    notes = serializers.ListField(child=serializers.CharField())
    near_misses = serializers.ListField(child=serializers.CharField())


class NewComponentShape(serializers.Serializer):
    """A component that is not on the register yet; its kind is what its position holds."""

    part_number = serializers.CharField(max_length=60)
    serial_number = serializers.CharField(max_length=60)
    manufactured_on = serializers.DateField(required=False, allow_null=True, default=None)
    opening_minutes = serializers.IntegerField(min_value=0, required=False, default=0)
    opening_landings = serializers.IntegerField(min_value=0, required=False, default=0)
    opening_cycles = serializers.IntegerField(min_value=0, required=False, default=0)
    release_document = serializers.CharField(max_length=80, required=False, default="", allow_blank=True)


class ReportShape(serializers.Serializer):
    """A report of an event. Without `key`, the Idempotency-Key of the request is the event's own."""

    aircraft = serializers.CharField(help_text="registration")
    kind = serializers.CharField(help_text="code of a kind of event")
    at = serializers.DateTimeField()
    key = serializers.CharField(max_length=100, required=False, default="", allow_blank=True)
    position = serializers.CharField(required=False, default="", allow_blank=True)
    component_on = serializers.IntegerField(required=False, allow_null=True, default=None)
    new_component = NewComponentShape(required=False, allow_null=True, default=None)
    note = serializers.CharField(max_length=2000, required=False, default="", allow_blank=True)
    detail = serializers.DictField(required=False, default=dict)
    photo = serializers.FileField(required=False, allow_null=True, default=None)


class EventFilter(serializers.Serializer):
    """How events are asked for."""

    aircraft = serializers.CharField(required=False, default="")
    kind = serializers.CharField(required=False, default="")


class EventKindShape(serializers.Serializer):
    """A kind of event."""

    code = serializers.CharField()
    name = serializers.CharField()
    change = serializers.CharField()
    component_kinds = serializers.ListField(child=serializers.CharField())
    needs_position = serializers.BooleanField()
    restarts_baseline = serializers.BooleanField()
    is_defect = serializers.BooleanField()
    is_reported_by_people = serializers.BooleanField()
    retired_on = serializers.DateField(allow_null=True)


class NewKindShape(serializers.Serializer):
    """A kind of event to be added."""

    code = serializers.CharField(max_length=40)
    name = serializers.CharField(max_length=100)
    change = serializers.CharField(
        required=False, default="none", help_text="none, replace, refit, remove or fit"
    )
    component_kinds = serializers.ListField(child=serializers.CharField(), required=False, default=list)
    needs_position = serializers.BooleanField(required=False, default=False)
    restarts_baseline = serializers.BooleanField(required=False, default=False)
    is_defect = serializers.BooleanField(required=False, default=False)
    order = serializers.IntegerField(required=False, default=100, min_value=0, max_value=32000)
