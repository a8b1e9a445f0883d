"""Procedures as versioned data: what a technician is asked to do, step by step."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models import AircraftType, Operator, User


class Consequence(models.TextChoices):
    """What an open or overdue item stops."""

    AIRWORTHINESS = "airworthiness", "no flight"
    ICING = "icing", "no flight into known or forecast icing"
    OPERATION = "operation", "a kind of operation"
    NONE = "none", "nothing"


class Procedure(models.Model):
    """A piece of work with a number of its own; its text lives in versions."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="procedures")
    code = models.SlugField(max_length=40)
    title = models.CharField(max_length=120)
    aircraft_type = models.ForeignKey(AircraftType, on_delete=models.PROTECT, null=True, blank=True)
    withdrawn_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="procedure_code_once_per_operator")
        ]
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"


class ProcedureVersion(models.Model):
    """One text of a procedure. Once a task has used it (`first_used_at`), the database refuses any change.

    `content` is the step tree that `scheduling.steps.procedure_from_data` reads.
    """

    class State(models.TextChoices):
        """Draft may be edited, current is what new work follows, superseded is kept."""

        DRAFT = "draft", "draft"
        CURRENT = "current", "current"
        SUPERSEDED = "superseded", "superseded"

    procedure = models.ForeignKey(Procedure, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveIntegerField()
    state = models.CharField(max_length=12, choices=State.choices, default=State.DRAFT)
    content = models.JSONField()
    approved_reference = models.CharField(max_length=120)
    approved_revision = models.CharField(max_length=40)
    ata = models.CharField(max_length=8)
    consequence = models.CharField(max_length=16, choices=Consequence.choices)
    minutes = models.PositiveIntegerField(help_text="estimate for one run")
    people = models.PositiveSmallIntegerField(default=1)
    needs_countersignature = models.BooleanField(default=False)
    is_inspection = models.BooleanField(
        default=False, help_text="recorded as an inspection entry, not a work entry"
    )
    change_note = models.CharField(max_length=300, blank=True)
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()
    first_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["procedure", "number"], name="procedure_version_number_once"),
            models.UniqueConstraint(
                fields=["procedure"], condition=Q(state="current"), name="one_current_version_per_procedure"
            ),
            models.UniqueConstraint(
                fields=["procedure"], condition=Q(state="draft"), name="one_draft_per_procedure"
            ),
            models.CheckConstraint(condition=Q(minutes__gte=1), name="procedure_takes_time"),
            models.CheckConstraint(condition=Q(people__gte=1), name="procedure_needs_somebody"),
        ]
        ordering = ["procedure_id", "-number"]

    def __str__(self) -> str:
        return f"{self.procedure.code} version {self.number}"
