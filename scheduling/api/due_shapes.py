"""What due items look like on the wire."""

from __future__ import annotations

from rest_framework import serializers

from scheduling.models import Consequence
from scheduling.selectors.due_query import GROUPS, STATES


class DueAsked(serializers.Serializer):
    """The words of the due list's query string."""

    base = serializers.CharField(required=False, help_text="base code")
    aircraft_type = serializers.CharField(required=False, help_text="type code")
    aircraft = serializers.CharField(required=False, help_text="registration")
    consequence = serializers.CharField(required=False, help_text=f"one of {', '.join(Consequence.values)}")
    ata = serializers.CharField(required=False, help_text="chapter, or chapter and section")
    state = serializers.CharField(required=False, help_text=f"one of {', '.join(STATES)}")
    window = serializers.CharField(required=False, help_text="days ahead, by the projected day")
    q = serializers.CharField(required=False, help_text="part of title, code, component or registration")
    sort = serializers.CharField(required=False, help_text="due, -due, aircraft, -aircraft")
    group = serializers.CharField(required=False, help_text=f"one of {', '.join(filter(None, GROUPS))}")


class DuePageAsked(DueAsked):
    """The same, and where in the list."""

    after = serializers.CharField(required=False, help_text="cursor of the page before")
    before = serializers.CharField(required=False, help_text="cursor of the page after")
    limit = serializers.CharField(required=False, help_text="rows a page, at most 200")


class DueRowShape(serializers.Serializer):
    """One due item in figures and in words; a projected day never stands without its interval."""

    id = serializers.IntegerField()
    registration = serializers.CharField()
    subject = serializers.CharField()
    place = serializers.CharField()
    code = serializers.CharField()
    title = serializers.CharField()
    ata = serializers.CharField()
    consequence = serializers.CharField()
    state = serializers.CharField()
    words = serializers.CharField()
    due_at = serializers.CharField()
    due_day = serializers.DateField(allow_null=True)
    projected_day = serializers.DateField(allow_null=True)
    earliest_day = serializers.DateField(allow_null=True)
    latest_day = serializers.DateField(allow_null=True)
    projection = serializers.CharField()
    basis = serializers.CharField()
    explanation = serializers.ListField(child=serializers.CharField())
    task_id = serializers.IntegerField(allow_null=True)
    is_varied = serializers.BooleanField()


class DuePageShape(serializers.Serializer):
    """One page of the due list; send a cursor back as `after` or `before`."""

    next_cursor = serializers.CharField()
    previous_cursor = serializers.CharField()
    results = DueRowShape(many=True)


class DueCountsShape(serializers.Serializer):
    """How many items stand how."""

    all = serializers.IntegerField()
    overdue = serializers.IntegerField()
    due = serializers.IntegerField()
    unknown = serializers.IntegerField()
    due_soon = serializers.IntegerField()
    ok = serializers.IntegerField()


class LimitShape(serializers.Serializer):
    """One limit of a due item."""

    path = serializers.CharField()
    measure = serializers.CharField()
    state_words = serializers.CharField()
    words = serializers.CharField()
    due_at = serializers.CharField()
    remaining = serializers.IntegerField(allow_null=True)
    allowed_to = serializers.CharField()
    projection = serializers.CharField()
    if_done_now = serializers.CharField()
    governs = serializers.BooleanField()


class VariationShape(serializers.Serializer):
    """A permitted variation as granted."""

    id = serializers.IntegerField()
    item = serializers.IntegerField(source="applicability_id")
    path = serializers.CharField()
    for_due = serializers.JSONField()
    measure = serializers.CharField()
    amount = serializers.IntegerField()
    in_months = serializers.BooleanField()
    reason = serializers.CharField()
    authority = serializers.CharField()
    granted_by = serializers.CharField(source="granted_by.full_name")
    granted_at = serializers.DateTimeField()
    used_at = serializers.DateTimeField(allow_null=True)
    withdrawn_at = serializers.DateTimeField(allow_null=True)


class DueExplainedShape(serializers.Serializer):
    """One due item, why it is due when it is, and what would change it."""

    row = DueRowShape()
    limits = LimitShape(many=True)
    rule = serializers.CharField()
    source = serializers.CharField()  # type: ignore[assignment]
    requirement_version = serializers.IntegerField()
    last_done = serializers.CharField()
    proof = serializers.CharField()
    opening_note = serializers.CharField()
    variations = VariationShape(many=True)


class CountersSent(serializers.Serializer):
    """Counters as written: hours as "1304:30"."""

    hours = serializers.CharField(required=False)
    landings = serializers.IntegerField(required=False, min_value=0)
    cycles = serializers.IntegerField(required=False, min_value=0)
    uses = serializers.IntegerField(required=False, min_value=0)
    use_minutes = serializers.IntegerField(required=False, min_value=0)
    flight_days = serializers.IntegerField(required=False, min_value=0)


class LastDoneSent(serializers.Serializer):
    """What was last done, as the papers say."""

    day = serializers.DateField(required=False, allow_null=True, default=None)
    counters = CountersSent(required=False, default=dict)
    proof = serializers.CharField(required=False, allow_blank=True, default="", max_length=80)
    note = serializers.CharField(required=False, allow_blank=True, default="", max_length=200)


class ReasonSent(serializers.Serializer):
    """Why."""

    reason = serializers.CharField(max_length=300)


class IfFliesAsked(serializers.Serializer):
    """If an aircraft flies so much every day from today on."""

    aircraft = serializers.CharField()
    minutes_per_day = serializers.IntegerField()
    landings_per_day = serializers.IntegerField(required=False, allow_null=True, default=None)


class IfAsked(serializers.Serializer):
    """If an item is done on a day to come, or if its limits were others; one of both."""

    day = serializers.DateField(required=False, allow_null=True, default=None)
    limits = serializers.DictField(required=False, allow_null=True, default=None)


class ChangeShape(serializers.Serializer):
    """One item before and after."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    title = serializers.CharField()
    subject = serializers.CharField()
    before = serializers.CharField()
    after = serializers.CharField()
    day_before = serializers.DateField(allow_null=True)
    day_after = serializers.DateField(allow_null=True)
    state_after = serializers.CharField()
    moved_days = serializers.IntegerField(allow_null=True)


class WhatIfShape(serializers.Serializer):
    """The due list as it would be; nothing was saved."""

    question = serializers.CharField()
    changes = ChangeShape(many=True)
    steps = serializers.ListField(child=serializers.CharField())
    warning = serializers.CharField()


class RaisedWorkShape(serializers.Serializer):
    """What the due list demanded."""

    raised = serializers.ListField(child=serializers.IntegerField())
    joined = serializers.ListField(child=serializers.IntegerField())
    without_procedure = serializers.ListField(child=serializers.CharField())


class UnrecordedShape(serializers.Serializer):
    """An item without a last-done."""

    id = serializers.IntegerField()
    code = serializers.CharField()
    title = serializers.CharField()
    subject = serializers.CharField()
    registration = serializers.CharField()
    is_needed = serializers.BooleanField()


class SavedViewShape(serializers.Serializer):
    """A way of looking at the due list."""

    id = serializers.IntegerField()
    name = serializers.CharField()
    query = serializers.DictField()
    is_shared = serializers.BooleanField()
    owner = serializers.CharField(source="owner.full_name")


class SavedViewSent(serializers.Serializer):
    """A view to keep; the same name again replaces it."""

    name = serializers.CharField(max_length=60)
    query = serializers.DictField()
    is_shared = serializers.BooleanField(required=False, default=False)
