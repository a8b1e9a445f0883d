"""Fluid, equipment and their proofs: what a test may be done with."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.aircraft import Aircraft
from fleet.models.people import Base, Operator, User


class FluidLot(models.Model):
    """One delivered batch of fluid, approved for use or quarantined, so that a bad one can be traced."""

    class State(models.TextChoices):
        """Whether it may be used."""

        RECEIVED = "received", "received, not yet approved"
        APPROVED = "approved", "approved"
        QUARANTINED = "quarantined", "quarantined"
        USED_UP = "used_up", "used up"

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="fluid_lots")
    specification = models.CharField(max_length=80)
    batch = models.CharField(max_length=60)
    supplier = models.CharField(max_length=80, blank=True)
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="fluid_lots")
    received_on = models.DateField()
    expires_on = models.DateField()
    quantity_ml = models.DecimalField(max_digits=12, decimal_places=3)
    state = models.CharField(max_length=12, choices=State.choices, default=State.RECEIVED)
    state_reason = models.CharField(max_length=200, blank=True)
    density_source = models.CharField(max_length=120, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "batch"], name="fluid_batch_once_per_operator"),
            models.CheckConstraint(condition=Q(quantity_ml__gt=0), name="fluid_quantity_above_zero"),
            models.CheckConstraint(
                condition=Q(expires_on__gte=F("received_on")), name="fluid_expires_after_receipt"
            ),
        ]
        ordering = ["-received_on", "batch"]

    def __str__(self) -> str:
        return f"{self.specification} {self.batch}"


class DensityPoint(models.Model):
    """One row of the supplier's density table for this lot, as written on the sheet."""

    lot = models.ForeignKey(FluidLot, on_delete=models.CASCADE, related_name="density_points")
    celsius = models.DecimalField(max_digits=6, decimal_places=2)
    grams_per_ml = models.DecimalField(max_digits=8, decimal_places=5)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["lot", "celsius"], name="density_once_per_temperature"),
            models.CheckConstraint(condition=Q(grams_per_ml__gt=0), name="density_above_zero"),
        ]
        ordering = ["celsius"]

    def __str__(self) -> str:
        return f"{self.grams_per_ml} g/mL at {self.celsius} °C"


class Uplift(models.Model):
    """Fluid of this lot went into this aircraft. Append-only."""

    lot = models.ForeignKey(FluidLot, on_delete=models.PROTECT, related_name="uplifts")
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="uplifts")
    at = models.DateTimeField()
    amount = models.CharField(max_length=24, help_text="as written")
    unit = models.CharField(max_length=16)
    volume_ml = models.DecimalField(max_digits=14, decimal_places=6)
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(volume_ml__gt=0), name="uplift_above_zero")]
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.amount} {self.unit}"


class Equipment(models.Model):
    """A tool or instrument: what it measures, how finely, and until when its calibration holds."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="equipment")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="equipment")
    code = models.SlugField(max_length=40)
    name = models.CharField(max_length=100)
    kind = models.SlugField(
        max_length=40, help_text="balance, measuring-cylinder, timer, voltmeter, ground-power …"
    )
    serial_number = models.CharField(max_length=60, blank=True)
    needs_calibration = models.BooleanField(default=True)
    resolution = models.CharField(max_length=24, blank=True)
    uncertainty = models.CharField(max_length=24, blank=True)
    unit = models.CharField(max_length=16, blank=True)
    withdrawn_on = models.DateField(null=True, blank=True)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="equipment_code_once_per_operator")
        ]
        ordering = ["kind", "code"]
        verbose_name_plural = "equipment"

    def __str__(self) -> str:
        return f"{self.name} ({self.code})"


class Calibration(models.Model):
    """The equipment was calibrated; the certificate holds until `due_on`, that day included. Append-only."""

    equipment = models.ForeignKey(Equipment, on_delete=models.PROTECT, related_name="calibrations")
    done_on = models.DateField()
    due_on = models.DateField()
    certificate = models.CharField(max_length=80)
    laboratory = models.CharField(max_length=100, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(due_on__gt=F("done_on")), name="calibration_holds_a_while"),
        ]
        ordering = ["done_on", "id"]

    def __str__(self) -> str:
        return self.certificate
