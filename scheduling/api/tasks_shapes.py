"""What tasks look like on the wire."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.models import Task
from scheduling.selectors.tasks import by_when


class WhyShape(serializers.Serializer):
    """One reason why a task exists."""

    words = serializers.CharField()
    event = serializers.IntegerField(source="event_id", allow_null=True)
    rule = serializers.IntegerField(source="rule_id", allow_null=True)
    at = serializers.DateTimeField()


class WaitShape(serializers.Serializer):
    """Open work that a task waits for."""

    task = serializers.IntegerField(source="first_id")
    title = serializers.CharField(source="first.title")
    state = serializers.CharField(source="first.state")


class PersonShape(serializers.Serializer):
    """Somebody, by key and name."""

    id = serializers.IntegerField()
    name = serializers.CharField(source="full_name")


class TaskShape(serializers.Serializer):
    """One task with its reasons and what it waits for."""

    id = serializers.IntegerField()
    aircraft = serializers.CharField(source="aircraft.registration")
    base = serializers.CharField(source="aircraft.base.code")
    procedure = serializers.CharField(source="procedure.code", allow_null=True, default=None)
    position = serializers.CharField(source="position.code", allow_null=True, default=None)
    title = serializers.CharField()
    state = serializers.CharField()
    consequence = serializers.CharField()
    before = serializers.CharField()
    latest_day = serializers.DateField(allow_null=True)
    latest_minutes = serializers.IntegerField(allow_null=True)
    by_when = serializers.SerializerMethodField()
    is_defect = serializers.BooleanField()
    assigned_to = PersonShape(allow_null=True)
    why = WhyShape(many=True)
    waits_for = WaitShape(many=True, source="open_waits")
    raised_at = serializers.DateTimeField()
    started_at = serializers.DateTimeField(allow_null=True)
    closed_at = serializers.DateTimeField(allow_null=True)
    proof = serializers.CharField()
    withdrawn_reason = serializers.CharField()
    version = serializers.IntegerField()

    def get_by_when(self, task: Task) -> str:
        return by_when(task)


class TaskBrief(serializers.Serializer):
    """A task as the answer to a report names it."""

    id = serializers.IntegerField()
    title = serializers.CharField()
    procedure = serializers.CharField(source="procedure.code", allow_null=True, default=None)
    state = serializers.CharField()
    by_when = serializers.SerializerMethodField()

    def get_by_when(self, task: Task) -> str:
        return by_when(task)


class WantedTaskShape(serializers.Serializer):
    """Work somebody wants on an aircraft."""

    aircraft = serializers.CharField(help_text="registration")
    procedure = serializers.CharField(help_text="code of a procedure in force")
    why = serializers.CharField(max_length=400)
    title = serializers.CharField(max_length=160, required=False, default="")
    before = serializers.CharField(
        required=False, default="none", help_text="next_flight, next_icing_flight, due or none"
    )
    latest_day = serializers.DateField(required=False, allow_null=True, default=None)


class TaskChange(serializers.Serializer):
    """What may be changed about a task: who has it."""

    assigned_to = serializers.IntegerField(allow_null=True, help_text="key of a person, or null for nobody")


class ReasonShape(serializers.Serializer):
    """A reason in words."""

    reason = serializers.CharField(max_length=300)


class TaskFilter(serializers.Serializer):
    """How tasks are asked for."""

    whose = serializers.CharField(required=False, default="all")
    state = serializers.CharField(required=False, default="open")
    search = serializers.CharField(required=False, default="", allow_blank=True)
    base = serializers.CharField(required=False, default="", allow_blank=True)
    aircraft = serializers.CharField(required=False, default="", allow_blank=True)

    def validate_whose(self, value: Any) -> str:
        return self._one_of(value, ("all", "mine", "free", "base"))

    def _one_of(self, value: str, known: tuple[str, ...]) -> str:
        if value not in known:
            raise serializers.ValidationError(f"“{value}” is not one of: {', '.join(known)}")
        return value
