"""What sealed records, amendments and their checks look like on the wire."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from records.api.run_shapes import SignatureShape
from records.models import SignedRecord
from records.selectors.signed import is_whole, payload_of


class RecordFilter(serializers.Serializer):
    """Which records are wanted."""

    aircraft = serializers.CharField(required=False)
    procedure = serializers.CharField(required=False)
    verdict = serializers.CharField(required=False)
    kind = serializers.ChoiceField(choices=SignedRecord.Kind.values, required=False)
    search = serializers.CharField(required=False)
    since = serializers.DateField(required=False)
    until = serializers.DateField(required=False)


class RecordRow(serializers.Serializer):
    """One record in a list."""

    number = serializers.CharField()
    sequence = serializers.IntegerField()
    aircraft = serializers.CharField(source="aircraft.registration")
    record_kind = serializers.CharField(source="kind")
    title = serializers.CharField()
    procedure = serializers.SerializerMethodField()
    verdict = serializers.CharField()
    completed_on = serializers.DateField()
    sealed_at = serializers.DateTimeField()
    signed_by = serializers.SerializerMethodField()
    amends = serializers.CharField(source="amends.number", default="")
    amended_by = serializers.SerializerMethodField()
    digest = serializers.CharField()

    def get_procedure(self, record: SignedRecord) -> str:
        return record.run.procedure_version.procedure.code if record.run else ""

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_signed_by(self, record: SignedRecord) -> list[str]:
        return [row.name for row in record.run.signatures.all()] if record.run else []

    @extend_schema_field(serializers.ListField(child=serializers.CharField()))
    def get_amended_by(self, record: SignedRecord) -> list[str]:
        return [row.number for row in record.amendments.all()]


class RecordShape(RecordRow):
    """One record in full: `payload` is what was sealed, `signatures` as sealed."""

    run = serializers.IntegerField(source="run_id", allow_null=True)
    previous_digest = serializers.CharField()
    is_whole = serializers.SerializerMethodField()
    payload = serializers.SerializerMethodField()
    signatures = serializers.SerializerMethodField()

    def get_is_whole(self, record: SignedRecord) -> bool:
        return is_whole(record)

    @extend_schema_field(serializers.JSONField())
    def get_payload(self, record: SignedRecord) -> dict[str, Any]:
        return dict(payload_of(record))

    @extend_schema_field(SignatureShape(many=True))
    def get_signatures(self, record: SignedRecord) -> list[dict[str, Any]]:
        signatures: list[dict[str, Any]] = payload_of(record)["signatures"]
        return signatures


class AmendmentDraft(serializers.Serializer):
    """What an amendment is to say, and why."""

    reason = serializers.CharField(allow_blank=True, max_length=2000)
    text = serializers.CharField(allow_blank=True, max_length=2000)


class AmendmentShape(AmendmentDraft):
    """An amendment to be sealed: the digest of what was shown, and the signer's password."""

    content_digest = serializers.CharField(max_length=64)
    password = serializers.CharField(max_length=200, trim_whitespace=False, style={"input_type": "password"})
    username = serializers.CharField(max_length=150, required=False, default="", allow_blank=True)


class FlawShape(serializers.Serializer):
    """One thing that is wrong."""

    subject = serializers.CharField()
    flaw_kind = serializers.CharField(source="kind")
    words = serializers.CharField()


class VerificationShape(serializers.Serializer):
    """Whether the records of one aircraft are whole."""

    registration = serializers.CharField()
    records = serializers.IntegerField()
    head = serializers.CharField()
    is_whole = serializers.BooleanField()
    words = serializers.CharField()
    flaws = FlawShape(many=True)


class StatusRow(serializers.Serializer):
    """The status items of one aircraft, each under its own number."""

    aircraft = serializers.CharField()
    type = serializers.CharField()
    serial_number = serializers.CharField()
    items = serializers.JSONField()
