"""What the programme looks like on the wire."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from scheduling.models import Consequence, Requirement
from scheduling.selectors.programme import limits_words, protection_words


class RequirementShape(serializers.Serializer):
    """One version of a line of the programme."""

    code = serializers.CharField()
    version = serializers.IntegerField()
    is_current = serializers.BooleanField()
    title = serializers.CharField()
    ata = serializers.CharField()
    limits = serializers.DictField()
    words = serializers.SerializerMethodField()
    never_varied = serializers.SerializerMethodField()
    consequence = serializers.CharField()
    aircraft_type = serializers.CharField(source="aircraft_type.code", default=None, allow_null=True)
    component_kind = serializers.CharField(source="component_kind.code", default=None, allow_null=True)
    options_needed = serializers.ListField(child=serializers.CharField())
    options_barred = serializers.ListField(child=serializers.CharField())
    procedure = serializers.CharField(source="procedure.code", default=None, allow_null=True)
    event_kind = serializers.CharField(source="event_kind.code", default=None, allow_null=True)
    source = serializers.CharField()  # type: ignore[assignment]
    is_airworthiness_limitation = serializers.BooleanField()
    is_directive = serializers.BooleanField()
    directive_allows_variation = serializers.BooleanField()
    variation_table = serializers.IntegerField(source="variation_table_id", allow_null=True)
    design_caps = serializers.DictField()
    ladder = serializers.DictField()
    retired_on = serializers.DateField(allow_null=True)
    written_by = serializers.CharField(source="written_by.full_name", default=None, allow_null=True)
    written_at = serializers.DateTimeField()

    def get_words(self, row: Requirement) -> str:
        return limits_words(row)

    def get_never_varied(self, row: Requirement) -> str:
        return protection_words(row)


class RequirementChange(serializers.Serializer):
    """What a line is to say from now on."""

    title = serializers.CharField(max_length=140)
    ata = serializers.CharField(max_length=8)
    limits = serializers.DictField(help_text='{"measure": "hours", "every": "100:00"} or a group of them')
    source = serializers.CharField(max_length=160)  # type: ignore[assignment]
    consequence = serializers.CharField(
        required=False, default="airworthiness", help_text=f"one of {', '.join(Consequence.values)}"
    )
    aircraft_type = serializers.CharField(required=False, allow_blank=True, default="")
    component_kind = serializers.CharField(required=False, allow_blank=True, default="")
    options_needed = serializers.ListField(child=serializers.CharField(), required=False, default=list)
    options_barred = serializers.ListField(child=serializers.CharField(), required=False, default=list)
    procedure = serializers.CharField(required=False, allow_blank=True, default="")
    event_kind = serializers.CharField(required=False, allow_blank=True, default="")
    is_airworthiness_limitation = serializers.BooleanField(required=False, default=False)
    is_directive = serializers.BooleanField(required=False, default=False)
    directive_allows_variation = serializers.BooleanField(required=False, default=False)
    variation_table_id = serializers.IntegerField(required=False, allow_null=True, default=None)
    design_caps = serializers.DictField(required=False, default=dict)
    ladder = serializers.DictField(required=False, default=dict)

    def to_internal_value(self, data: Any) -> dict[str, Any]:
        """Lists become tuples, as the service takes them."""
        read = super().to_internal_value(data)
        for name in ("options_needed", "options_barred"):
            read[name] = tuple(read[name])
        return read


class NewRequirement(RequirementChange):
    """A line that is not there yet."""

    code = serializers.SlugField(max_length=40)


class ReasonShape(serializers.Serializer):
    """One reason of a refusal."""

    field = serializers.CharField()
    value = serializers.CharField()
    detail = serializers.CharField()
    remedy = serializers.CharField()


class LeftOutShape(serializers.Serializer):
    """A subject the line could not be put on."""

    subject = serializers.CharField()
    reasons = ReasonShape(many=True)


class AppliedShape(serializers.Serializer):
    """What putting a line where it belongs changed."""

    added = serializers.IntegerField()
    stopped = serializers.IntegerField()
    kept = serializers.IntegerField()
    left_out = LeftOutShape(many=True)


class FileSent(serializers.Serializer):
    """A programme file; `mapping` says which column holds which field where the heads do not."""

    kind = serializers.ChoiceField(choices=["programme", "last_done"])
    file = serializers.FileField()
    mapping = serializers.JSONField(required=False, default=dict)
    dry_run = serializers.BooleanField(required=False, default=True)
    apply = serializers.BooleanField(required=False, default=True)


class RowErrorShape(serializers.Serializer):
    """What is wrong with one cell."""

    row = serializers.IntegerField()
    column = serializers.CharField()
    value = serializers.CharField()
    detail = serializers.CharField()
    remedy = serializers.CharField()


class ImportedShape(serializers.Serializer):
    """What a file would change, or did."""

    kind = serializers.CharField()
    columns = serializers.ListField(child=serializers.CharField())
    mapping = serializers.DictField(child=serializers.CharField())
    unused = serializers.ListField(child=serializers.CharField())
    rows = serializers.IntegerField()
    created = serializers.IntegerField()
    changed = serializers.IntegerField()
    same = serializers.IntegerField()
    errors = RowErrorShape(many=True)  # type: ignore[assignment]
    notes = serializers.ListField(child=serializers.CharField())
    written = serializers.BooleanField()
