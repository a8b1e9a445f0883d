"""What week plans, places, reminders and calendar links look like on the wire."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from fleet.models import Equipment
from scheduling.api.tasks_shapes import PersonShape
from scheduling.models import Reminder, Slot, WeekPlan
from scheduling.selectors.week import slots_of


class WeekUnitShape(serializers.Serializer):
    """A unit of equipment, by key and name."""

    id = serializers.IntegerField()
    name = serializers.SerializerMethodField()

    def get_name(self, unit: Equipment) -> str:
        return str(unit)


class SlotShape(serializers.Serializer):
    """One task in one bay, from one moment to another."""

    task = serializers.IntegerField(source="task_id")
    title = serializers.CharField(source="task.title")
    aircraft = serializers.CharField(source="task.aircraft.registration")
    state = serializers.CharField(source="task.state")
    bay = serializers.SerializerMethodField()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    people = PersonShape(many=True)
    equipment = WeekUnitShape(many=True)
    is_pinned = serializers.BooleanField()

    def get_bay(self, slot: Slot) -> str:
        return slot.bay.name if slot.bay else ""


class UnplacedShape(serializers.Serializer):
    """A task that found no place, with the reasons in words."""

    task = serializers.IntegerField()
    title = serializers.CharField()
    aircraft = serializers.CharField()
    reasons = serializers.ListField(child=serializers.CharField())


class WeekPlanBrief(serializers.Serializer):
    """A plan without its slots."""

    id = serializers.IntegerField()
    base = serializers.CharField(source="base.code")
    monday = serializers.DateField()
    state = serializers.CharField()
    asked_at = serializers.DateTimeField()
    solved_at = serializers.DateTimeField(allow_null=True)
    published_at = serializers.DateTimeField(allow_null=True)
    version = serializers.IntegerField()


class WeekPlanShape(WeekPlanBrief):
    """A plan with its slots, what found no place, and its cost with the proven lower limit."""

    slots = serializers.SerializerMethodField()
    unplaced = serializers.SerializerMethodField()
    problems = serializers.SerializerMethodField()
    cost = serializers.SerializerMethodField()
    bound = serializers.SerializerMethodField()

    @extend_schema_field(SlotShape(many=True))
    def get_slots(self, plan: WeekPlan) -> Any:
        return SlotShape(slots_of(plan), many=True).data

    @extend_schema_field(UnplacedShape(many=True))
    def get_unplaced(self, plan: WeekPlan) -> Any:
        return UnplacedShape(plan.outcome.get("unplaced", []), many=True).data

    def get_problems(self, plan: WeekPlan) -> list[str]:
        return list(plan.outcome.get("problems", []))

    def get_cost(self, plan: WeekPlan) -> int | None:
        return plan.outcome.get("cost")

    def get_bound(self, plan: WeekPlan) -> int | None:
        return plan.outcome.get("bound")


class AskedWeekShape(serializers.Serializer):
    """Which week is wanted; `by_hand` opens a draft to change instead of having it worked out."""

    base = serializers.CharField(help_text="code of a base")
    monday = serializers.DateField()
    by_hand = serializers.BooleanField(required=False, default=False)


class WeekPlanFilter(serializers.Serializer):
    """How plans are asked for."""

    base = serializers.CharField(required=False, default="", allow_blank=True)
    monday = serializers.DateField(required=False, allow_null=True, default=None)


class SlotMoveShape(serializers.Serializer):
    """Where a task is to stand; an empty bay keeps the present one, or lets one be found."""

    task = serializers.IntegerField()
    starts_at = serializers.DateTimeField(help_text="a quarter of an hour, with its zone")
    bay = serializers.CharField(required=False, default="", allow_blank=True)


class TaskNamed(serializers.Serializer):
    """One task of a plan."""

    task = serializers.IntegerField()


class BayShape(serializers.Serializer):
    """A bay of a base."""

    id = serializers.IntegerField(read_only=True)
    base = serializers.CharField(source="base.code")
    name = serializers.CharField(max_length=40)
    closed_on = serializers.DateField(read_only=True, allow_null=True)


class BayClosing(serializers.Serializer):
    """From when a bay is closed; null opens it."""

    closed_on = serializers.DateField(allow_null=True)


class ShiftShape(serializers.Serializer):
    """A person works at a base."""

    id = serializers.IntegerField()
    base = serializers.CharField(source="base.code")
    person = PersonShape()
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()
    note = serializers.CharField()


class GroundTimeShape(serializers.Serializer):
    """An aircraft stands at a base."""

    id = serializers.IntegerField()
    base = serializers.CharField(source="base.code")
    aircraft = serializers.CharField(source="aircraft.registration")
    starts_at = serializers.DateTimeField()
    ends_at = serializers.DateTimeField()


class PatternShape(serializers.Serializer):
    """A stretch of days with the same times by the base's clock; weekdays count from Monday, 0."""

    base = serializers.CharField(help_text="code of a base")
    first_day = serializers.DateField()
    last_day = serializers.DateField()
    starts = serializers.TimeField()
    ends = serializers.TimeField(help_text="a time that is not later is on the next day")
    weekdays = serializers.ListField(
        child=serializers.IntegerField(min_value=0, max_value=6),
        required=False,
        default=[0, 1, 2, 3, 4, 5, 6],
    )


class NewShiftsShape(PatternShape):
    """Shifts of one person."""

    person = serializers.IntegerField(help_text="key of a person")
    remark = serializers.CharField(max_length=80, required=False, default="", allow_blank=True)


class NewGroundTimesShape(PatternShape):
    """Ground times of one aircraft."""

    aircraft = serializers.CharField(help_text="registration")


class PlaceFilter(serializers.Serializer):
    """Of which base."""

    base = serializers.CharField(required=False, default="", allow_blank=True)


class ReminderShape(serializers.Serializer):
    """One reminder of one's own."""

    id = serializers.IntegerField()
    item = serializers.IntegerField(source="applicability_id", allow_null=True)
    task = serializers.IntegerField(source="task_id", allow_null=True)
    stage = serializers.CharField()
    step = serializers.SerializerMethodField()
    subject = serializers.CharField()
    words = serializers.CharField()
    told_at = serializers.DateTimeField(source="send_after")
    answer_by = serializers.DateTimeField(source="acknowledge_by", allow_null=True)
    seen_at = serializers.DateTimeField(allow_null=True)
    acknowledged_at = serializers.DateTimeField(allow_null=True)
    snoozed_until = serializers.DateTimeField(allow_null=True)
    snooze_reason = serializers.CharField()
    escalated_at = serializers.DateTimeField(allow_null=True)
    settled_at = serializers.DateTimeField(allow_null=True)

    def get_step(self, row: Reminder) -> str:
        return str(row.detail.get("step", ""))


class ReminderFilter(serializers.Serializer):
    """Which of one's reminders."""

    view = serializers.ChoiceField(["open", "put_off", "answered"], required=False, default="open")


class SnoozeShape(serializers.Serializer):
    """Until when, and why it can wait."""

    until = serializers.DateTimeField()
    reason = serializers.CharField(max_length=200)


class MailChoiceShape(serializers.Serializer):
    """How one gets mail: digest, at_once or none."""

    by_mail = serializers.CharField()


class LadderShape(serializers.Serializer):
    """The steps in force for one consequence; version 0 is the usual ladder."""

    consequence = serializers.CharField(read_only=True)
    steps = serializers.JSONField(
        help_text="days, hours, landings …, to, overdue_to, acknowledge_within_hours"
    )
    version = serializers.IntegerField(read_only=True)
    is_own = serializers.BooleanField(read_only=True)


class CalendarLinkShape(serializers.Serializer):
    """A calendar link of one's own; its secret is never shown again."""

    id = serializers.IntegerField(read_only=True)
    label = serializers.CharField(max_length=80)  # type: ignore[assignment]
    base = serializers.CharField(source="base.code", allow_null=True, required=False, default=None)
    aircraft = serializers.CharField(
        source="aircraft.registration", allow_null=True, required=False, default=None
    )
    created_at = serializers.DateTimeField(read_only=True)
    revoked_at = serializers.DateTimeField(read_only=True, allow_null=True)


class NewCalendarLinkShape(serializers.Serializer):
    """What a link shows: one's own, a base's or an aircraft's."""

    label = serializers.CharField(max_length=80)  # type: ignore[assignment]
    base = serializers.CharField(required=False, default="", allow_blank=True)
    aircraft = serializers.CharField(required=False, default="", allow_blank=True)


class MadeCalendarLinkShape(CalendarLinkShape):
    """A link just made, with its address, shown this once."""

    address = serializers.CharField()


class EndpointShape(serializers.Serializer):
    """Where webhooks go."""

    id = serializers.IntegerField(read_only=True)
    label = serializers.CharField(max_length=80)  # type: ignore[assignment]
    url = serializers.CharField(max_length=400)
    is_enabled = serializers.BooleanField(read_only=True)
    disabled_reason = serializers.CharField(read_only=True)
    created_at = serializers.DateTimeField(read_only=True)


class MadeEndpointShape(EndpointShape):
    """An endpoint just registered, with its secret, shown this once."""

    secret = serializers.CharField()


class EndpointChange(serializers.Serializer):
    """Switched on or off."""

    is_enabled = serializers.BooleanField()
