"""Shapes of fluid lots, uplifts, equipment and calibrations."""

from __future__ import annotations

from rest_framework import serializers as s


class DensitySent(s.Serializer):
    """One row of the supplier's density table, as written on the sheet."""

    celsius = s.CharField(max_length=12)
    grams_per_ml = s.CharField(max_length=12)


class FluidLotSent(s.Serializer):
    """A delivery of fluid; quantities and densities as text, as written on the papers."""

    base = s.CharField(max_length=20)
    specification = s.CharField(max_length=80)
    batch = s.CharField(max_length=60)
    supplier = s.CharField(max_length=80, required=False, default="", allow_blank=True)
    received_on = s.DateField()
    expires_on = s.DateField()
    quantity = s.CharField(max_length=24)
    unit = s.CharField(max_length=16)
    density_source = s.CharField(max_length=120, required=False, default="", allow_blank=True)
    densities = DensitySent(many=True, required=False, default=list)


class DensityAnswer(s.Serializer):
    """One row of the density table."""

    celsius = s.DecimalField(max_digits=6, decimal_places=2)
    grams_per_ml = s.DecimalField(max_digits=8, decimal_places=5)


class FluidLotAnswer(s.Serializer):
    """A fluid lot."""

    id = s.IntegerField()
    base = s.CharField(source="base.code")
    specification = s.CharField()
    batch = s.CharField()
    supplier = s.CharField()
    received_on = s.DateField()
    expires_on = s.DateField()
    quantity_ml = s.DecimalField(max_digits=12, decimal_places=3)
    filled_ml = s.DecimalField(max_digits=20, decimal_places=6, allow_null=True)
    state = s.CharField()
    state_reason = s.CharField()
    density_source = s.CharField()
    densities = DensityAnswer(many=True, source="density_points")
    version = s.IntegerField()


class LotReasonSent(s.Serializer):
    """Why the state changes; quarantine, and approval after it, need a reason."""

    reason = s.CharField(max_length=200, required=False, default="", allow_blank=True)


class LotTraceAnswer(s.Serializer):
    """Something that took of a lot or quotes it: an uplift, a run, on which aircraft."""

    kind = s.CharField()
    reference = s.IntegerField()
    registration = s.CharField(allow_blank=True)
    words = s.CharField()
    at = s.DateTimeField(allow_null=True)


class UpliftSent(s.Serializer):
    """Fluid that went into an aircraft, as written."""

    lot = s.IntegerField()
    aircraft = s.CharField(max_length=12)
    at = s.DateTimeField()
    amount = s.CharField(max_length=24)
    unit = s.CharField(max_length=16)


class UpliftAnswer(s.Serializer):
    """Fluid that went into an aircraft."""

    id = s.IntegerField()
    lot = s.IntegerField(source="lot_id")
    batch = s.CharField(source="lot.batch")
    aircraft = s.CharField(source="aircraft.registration")
    at = s.DateTimeField()
    amount = s.CharField()
    unit = s.CharField()
    volume_ml = s.DecimalField(max_digits=14, decimal_places=6)


class EquipmentSent(s.Serializer):
    """A tool or instrument; resolution and uncertainty as text, as its papers say."""

    base = s.CharField(max_length=20)
    code = s.CharField(max_length=40)
    name = s.CharField(max_length=100)
    kind = s.CharField(max_length=40)
    serial_number = s.CharField(max_length=60, required=False, default="", allow_blank=True)
    needs_calibration = s.BooleanField(required=False, default=True)
    resolution = s.CharField(max_length=24, required=False, default="", allow_blank=True)
    uncertainty = s.CharField(max_length=24, required=False, default="", allow_blank=True)
    unit = s.CharField(max_length=16, required=False, default="", allow_blank=True)


class EquipmentAnswer(EquipmentSent):
    """A tool or instrument, and until when its calibration holds."""

    id = s.IntegerField()
    base = s.CharField(source="base.code")
    withdrawn_on = s.DateField(allow_null=True)
    calibration_due = s.DateField(allow_null=True)
    last_certificate = s.CharField(allow_null=True)
    version = s.IntegerField()


class CalibrationSent(s.Serializer):
    """A calibration, as its certificate says."""

    done_on = s.DateField()
    due_on = s.DateField()
    certificate = s.CharField(max_length=80)
    laboratory = s.CharField(max_length=100, required=False, default="", allow_blank=True)


class CalibrationAnswer(CalibrationSent):
    """A calibration."""

    id = s.IntegerField()


class StockAsked(s.Serializer):
    """Which stock."""

    base = s.CharField(required=False)
    state = s.CharField(required=False)
    kind = s.CharField(required=False)


class UpliftsAsked(s.Serializer):
    """Which uplifts."""

    lot = s.IntegerField(required=False)
    aircraft = s.CharField(required=False)
