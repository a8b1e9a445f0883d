"""What runs look like on the wire. Numbers that were read are text, exactly as they were written."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from records.models import BenchRun


class RunFilter(serializers.Serializer):
    """Which runs are wanted."""

    task = serializers.IntegerField(required=False)
    aircraft = serializers.CharField(required=False)
    state = serializers.CharField(required=False)


class OpeningShape(serializers.Serializer):
    """A run to be opened."""

    task = serializers.IntegerField()
    key = serializers.CharField(max_length=100)
    started_at = serializers.DateTimeField()


class EntryShape(serializers.Serializer):
    """One step answered; what `answer` holds depends on the kind of step."""

    step = serializers.CharField(max_length=60)
    key = serializers.CharField(max_length=100)
    answer = serializers.JSONField()
    captured_at = serializers.DateTimeField()
    repeat_reason = serializers.CharField(max_length=200, required=False, default="", allow_blank=True)


class EquipmentChoice(serializers.Serializer):
    """The equipment that fills a role."""

    role = serializers.CharField(max_length=40)
    equipment = serializers.IntegerField()


class LotChoice(serializers.Serializer):
    """The fluid lot used, and how much was there; the amount is text, as written."""

    lot = serializers.IntegerField()
    amount = serializers.CharField(max_length=24)
    unit = serializers.CharField(max_length=16)


class PhotoUpload(serializers.Serializer):
    """A picture taken at a step, as a multipart upload."""

    step = serializers.CharField(max_length=60)
    key = serializers.CharField(max_length=100)
    taken_at = serializers.DateTimeField()
    file = serializers.FileField()


class HandOverShape(serializers.Serializer):
    """To whom a run passes, and where it stands."""

    to = serializers.IntegerField()
    note = serializers.CharField(max_length=300, allow_blank=True)


class AbandonShape(serializers.Serializer):
    """Why a run is given up."""

    reason = serializers.CharField(max_length=300, allow_blank=True)


class FinishShape(serializers.Serializer):
    """When the work was completed, where that was earlier than now."""

    finished_at = serializers.DateTimeField(required=False, allow_null=True, default=None)


class SigningShape(serializers.Serializer):
    """A signature: its meaning, the digest of what was shown, and the signer's password or passkey.

    `username` only where a colleague signs on somebody else's device. `passkey` is the browser's answer to
    `passkeys/proof-options/`, bytes as base64url.
    """

    meaning = serializers.ChoiceField(choices=["performed", "inspected"])
    content_digest = serializers.CharField(max_length=64)
    password = serializers.CharField(
        max_length=200,
        trim_whitespace=False,
        required=False,
        default="",
        allow_blank=True,
        style={"input_type": "password"},
    )
    passkey = serializers.DictField(required=False, allow_null=True, default=None)
    username = serializers.CharField(max_length=150, required=False, default="", allow_blank=True)

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if not attrs["password"] and not attrs["passkey"]:
            raise serializers.ValidationError({"password": "Send the password, or a passkey."})
        return attrs


class AnswerShape(serializers.Serializer):
    """One answer as kept, with what it came to (provisional: the verdict is given when the run is finished)."""

    id = serializers.IntegerField()
    step = serializers.CharField()
    key = serializers.CharField()
    answer = serializers.JSONField()
    outcome = serializers.CharField()
    outcome_words = serializers.CharField()
    repeat_reason = serializers.CharField()
    captured_at = serializers.DateTimeField()
    received_at = serializers.DateTimeField()
    by = serializers.CharField(source="by.full_name")


class MeasurementShape(serializers.Serializer):
    """One reading as written, the limit it was judged by and its margin."""

    point = serializers.CharField()
    side = serializers.CharField()
    value = serializers.CharField()
    unit = serializers.CharField()
    detail = serializers.JSONField()
    limit = serializers.JSONField()
    verdict = serializers.CharField()
    margin = serializers.CharField()
    words = serializers.CharField()
    captured_at = serializers.DateTimeField()


class EquipmentUseShape(serializers.Serializer):
    """Equipment used in a run, its calibration as it stood."""

    role = serializers.CharField()
    equipment = serializers.IntegerField(source="equipment_id")
    code = serializers.CharField(source="equipment.code")
    name = serializers.CharField(source="equipment.name")
    certificate = serializers.CharField()
    calibration_due = serializers.DateField(allow_null=True)


class LotUseShape(serializers.Serializer):
    """Fluid used in a run."""

    lot = serializers.IntegerField(source="lot_id")
    batch = serializers.CharField(source="lot.batch")
    amount = serializers.CharField()
    unit = serializers.CharField()


class PhotoShape(serializers.Serializer):
    """A picture taken at a step; `address` gives the picture itself."""

    id = serializers.IntegerField()
    step = serializers.CharField()
    key = serializers.CharField()
    sha256 = serializers.CharField()
    media_type = serializers.CharField()
    taken_at = serializers.DateTimeField()
    address = serializers.SerializerMethodField()

    def get_address(self, photo: Any) -> str:
        return f"/api/v1/runs/{photo.run_id}/photos/{photo.pk}/"


class HandedOver(serializers.Serializer):
    """A run passed on."""

    from_user = serializers.CharField(source="from_user.full_name")
    to_user = serializers.CharField(source="to_user.full_name")
    note = serializers.CharField()
    at = serializers.DateTimeField()


class SignatureShape(serializers.Serializer):
    """Who signed what, with which certificate."""

    name = serializers.CharField()
    meaning = serializers.CharField()
    certificate_kind = serializers.CharField()
    certificate_number = serializers.CharField()
    authorisation = serializers.CharField()
    proof = serializers.CharField()
    content_digest = serializers.CharField()
    signed_at = serializers.DateTimeField()


class RunRow(serializers.Serializer):
    """One run in a list."""

    id = serializers.IntegerField()
    task = serializers.IntegerField(source="task_id")
    title = serializers.CharField(source="task.title")
    aircraft = serializers.CharField(source="aircraft.registration")
    procedure = serializers.CharField(source="procedure_version.procedure.code")
    procedure_version = serializers.IntegerField(source="procedure_version.number")
    number = serializers.IntegerField()
    state = serializers.CharField()
    performer = serializers.CharField(source="performer.full_name")
    performer_id = serializers.IntegerField()
    started_at = serializers.DateTimeField()
    finished_at = serializers.DateTimeField(allow_null=True)
    verdict = serializers.CharField()
    record = serializers.SerializerMethodField()
    version = serializers.IntegerField()

    def get_record(self, run: BenchRun) -> str:
        record = getattr(run, "record", None)
        return record.number if record else ""


class RunShape(RunRow):
    """One run with everything that was entered."""

    key = serializers.CharField()
    minutes_at_start = serializers.IntegerField()
    landings_at_start = serializers.IntegerField()
    verdict_detail = serializers.JSONField()
    abandoned_reason = serializers.CharField()
    needs_countersignature = serializers.BooleanField(source="procedure_version.needs_countersignature")
    answers = AnswerShape(many=True)
    measurements = MeasurementShape(many=True)
    equipment = EquipmentUseShape(many=True, source="equipment_uses")
    lots = LotUseShape(many=True, source="lot_uses")
    photos = PhotoShape(many=True)
    hand_overs = HandedOver(many=True)
    signatures = SignatureShape(many=True)


class ContentShape(serializers.Serializer):
    """What a signature binds, in full, with its digest."""

    payload = serializers.JSONField()
    digest = serializers.CharField()


class SignedShape(serializers.Serializer):
    """What came of a signature: the record, once every signature it needs is there."""

    meaning = serializers.CharField()
    signed_at = serializers.DateTimeField()
    is_sealed = serializers.BooleanField()
    record = serializers.CharField()
    digest = serializers.CharField()
    still_needed = serializers.ListField(child=serializers.CharField())
