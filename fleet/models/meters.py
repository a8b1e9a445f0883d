"""Counters: meters, the statements made about them, and the flights that move them.

A counter at a moment = the last reading at or before it + the flights since. `Meter.value` caches the newest.
"""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models.aircraft import Aircraft, Component
from fleet.models.people import Operator, User


class Meter(models.Model):
    """One counter of one aircraft, or a component's own use counter (minutes a beacon battery was used).

    Hours are whole minutes. The value goes down only with a new correction or a newly voided flight named on
    the row: the database refuses anything else.
    """

    class Kind(models.TextChoices):
        """What is counted."""

        MINUTES = "minutes", "flight time"
        LANDINGS = "landings", "landings"
        CYCLES = "cycles", "engine cycles"
        USES = "uses", "uses"
        USE_MINUTES = "use_minutes", "minutes in use"

    aircraft = models.ForeignKey(
        Aircraft, on_delete=models.PROTECT, null=True, blank=True, related_name="meters"
    )
    component = models.ForeignKey(
        Component, on_delete=models.PROTECT, null=True, blank=True, related_name="meters"
    )
    kind = models.CharField(max_length=12, choices=Kind.choices)
    value = models.PositiveBigIntegerField(default=0)
    as_of = models.DateTimeField(null=True, blank=True)
    last_correction = models.ForeignKey(
        "fleet.Reading", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    last_void = models.ForeignKey(
        "fleet.FlightEntry", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(aircraft=None, component__isnull=False)
                | Q(aircraft__isnull=False, component=None),
                name="meter_belongs_to_aircraft_or_component",
            ),
            models.UniqueConstraint(
                fields=["aircraft", "kind"],
                condition=Q(component=None),
                name="one_meter_per_aircraft_and_kind",
            ),
            models.UniqueConstraint(
                fields=["component", "kind"],
                condition=Q(aircraft=None),
                name="one_meter_per_component_and_kind",
            ),
            models.CheckConstraint(condition=Q(value__gte=0), name="meter_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.value}"


class Reading(models.Model):
    """A statement of what the meter showed at a moment. Append-only; a correction is a new row with a reason."""

    class Kind(models.TextChoices):
        """Why the row exists."""

        OPENING = "opening", "opening balance"
        READING = "reading", "reading"
        CORRECTION = "correction", "correction"

    meter = models.ForeignKey(Meter, on_delete=models.PROTECT, related_name="readings")
    at = models.DateTimeField()
    value = models.PositiveBigIntegerField()
    kind = models.CharField(max_length=12, choices=Kind.choices, default=Kind.READING)
    reason = models.CharField(max_length=200, blank=True)
    posted_at = models.DateTimeField()
    posted_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["meter", "at"],
                condition=~Q(kind="correction"),
                name="one_reading_per_meter_and_moment",
            ),
            models.CheckConstraint(
                condition=~Q(kind="correction") | ~Q(reason=""), name="correction_has_a_reason"
            ),
        ]
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return f"{self.value} at {self.at:%Y-%m-%d}"


class ImportBatch(models.Model):
    """One accepted flight file: who brought it, how its columns were read, what came in and what was left out."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="import_batches")
    filename = models.CharField(max_length=200)
    digest = models.CharField(max_length=64)
    mapping = models.JSONField(default=dict)
    rows = models.PositiveIntegerField()
    imported = models.PositiveIntegerField()
    repeated = models.PositiveIntegerField()
    left_out = models.PositiveIntegerField()
    imported_at = models.DateTimeField()
    imported_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")

    def __str__(self) -> str:
        return self.filename


class FlightUpload(models.Model):
    """A flight file on its way in: kept from the dry run until it is imported, refused or forgotten.

    `mapping` is how its columns are read, `report` what the last dry run or the import found. `tries` counts how often
    the import was begun since it was asked for, so that a file that breaks every one is given up in the end.
    """

    class State(models.TextChoices):
        """Where it stands."""

        CHECKED = "checked", "checked, not imported"
        ASKED = "asked", "import asked for"
        WORKING = "working", "being imported"
        DONE = "done", "imported"
        REFUSED = "refused", "refused"
        FAILED = "failed", "broken off"

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="flight_uploads")
    file = models.FileField(upload_to="flight-uploads/")
    filename = models.CharField(max_length=200)
    mapping = models.JSONField(default=dict)
    report = models.JSONField(default=dict)
    state = models.CharField(max_length=12, choices=State.choices, default=State.CHECKED)
    leaves_out_bad_rows = models.BooleanField(default=False)
    batch = models.ForeignKey(ImportBatch, on_delete=models.PROTECT, null=True, blank=True)
    claimed_at = models.DateTimeField(null=True, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    uploaded_at = models.DateTimeField()
    uploaded_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return self.filename


class FlightEntry(models.Model):
    """One flight: time in service from leaving the surface to touching it (14 CFR 1.1), in whole minutes.

    `day` is the calendar day at the aircraft's base on which it started. `reference` makes repeats harmless.
    A wrong flight is voided with a reason, never deleted.
    """

    # Found by (aircraft, off_at); who entered a flight is never searched for, and indexes cost every import.
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="flights", db_index=False)
    day = models.DateField()
    off_at = models.DateTimeField(help_text="when it left the surface (UTC)")
    minutes = models.PositiveIntegerField()
    landings = models.PositiveSmallIntegerField(default=1)
    cycles = models.PositiveSmallIntegerField(default=1)
    reference = models.CharField(max_length=80)
    batch = models.ForeignKey(
        ImportBatch, on_delete=models.PROTECT, null=True, blank=True, related_name="flights"
    )
    entered_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, related_name="+", db_index=False
    )
    voided_at = models.DateTimeField(null=True, blank=True)
    voided_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+", db_index=False
    )
    void_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(minutes__gte=1), name="flight_longer_than_nothing"),
            models.CheckConstraint(condition=Q(minutes__lte=1440), name="flight_within_a_day"),
            models.UniqueConstraint(
                fields=["aircraft", "reference"], name="flight_reference_once_per_aircraft"
            ),
            models.CheckConstraint(
                condition=Q(voided_at=None) | ~Q(void_reason=""), name="void_flight_has_a_reason"
            ),
        ]
        indexes = [models.Index(fields=["aircraft", "off_at"]), models.Index(fields=["-off_at", "-id"])]
        ordering = ["off_at", "id"]
        verbose_name_plural = "flight entries"

    def __str__(self) -> str:
        return f"{self.day} {self.minutes} min"


class FlightDay(models.Model):
    """Flights of one aircraft on one day, added up: what forecasts and flight-day limits read."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.CASCADE, related_name="flight_days")
    day = models.DateField()
    minutes = models.PositiveIntegerField(default=0)
    landings = models.PositiveIntegerField(default=0)
    cycles = models.PositiveIntegerField(default=0)
    flights = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["aircraft", "day"], name="flight_day_once_per_aircraft"),
            models.CheckConstraint(
                condition=Q(flights__gte=0) & Q(minutes__gte=F("flights")), name="flight_day_adds_up"
            ),
        ]
        ordering = ["day"]

    def __str__(self) -> str:
        return f"{self.day}: {self.minutes} min"
