"""Work that is wanted: tasks, why they exist, what they wait for, and relief while they are open."""

from __future__ import annotations

from datetime import time

from django.db import models
from django.db.models import F, Q

from fleet.models import Aircraft, Component, Operator, Position, User
from scheduling.models.events import Event, TriggerRule
from scheduling.models.procedures import Consequence, Procedure, ProcedureVersion
from scheduling.models.requirements import Applicability


class TaskState(models.TextChoices):
    """Where a task stands."""

    RAISED = "raised", "raised"
    PLANNED = "planned", "planned"
    IN_WORK = "in_work", "in work"
    AWAITING_SIGNATURE = "awaiting_signature", "awaiting signature"
    CLOSED = "closed", "closed"
    WITHDRAWN = "withdrawn", "withdrawn"


OPEN_STATES = ["raised", "planned", "in_work", "awaiting_signature"]


class Before(models.TextChoices):
    """By when the task must be closed."""

    NEXT_FLIGHT = "next_flight", "before next flight"
    NEXT_ICING_FLIGHT = "next_icing_flight", "before flight in known or forecast icing"
    WITHIN_DAYS = "within_days", "within days"
    WITHIN_HOURS = "within_hours", "within flight hours"
    DUE = "due", "when its limits say"
    NONE = "none", "no time set"


class Task(models.Model):
    """One piece of work on one aircraft (in our trade a task is work; queue code lives in `jobs`).

    `scope` tells apart tasks of one procedure on different positions or components; empty = whole aircraft.
    `proof` quotes the signed record that closed it: a plain value goes down, no key points up.
    """

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="tasks")
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="tasks")
    procedure = models.ForeignKey(
        Procedure, on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    procedure_version = models.ForeignKey(
        ProcedureVersion, on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    applicability = models.ForeignKey(
        Applicability, on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    component = models.ForeignKey(
        Component, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    scope = models.CharField(max_length=80, blank=True, default="")
    title = models.CharField(max_length=160)
    state = models.CharField(max_length=20, choices=TaskState.choices, default=TaskState.RAISED)
    consequence = models.CharField(max_length=16, choices=Consequence.choices)
    order = models.PositiveSmallIntegerField(default=1)
    before = models.CharField(max_length=20, choices=Before.choices, default=Before.NONE)
    before_amount = models.PositiveIntegerField(null=True, blank=True, help_text="days or flight minutes")
    latest_day = models.DateField(null=True, blank=True)
    latest_minutes = models.PositiveBigIntegerField(null=True, blank=True)
    is_defect = models.BooleanField(default=False, help_text="something was found wrong, not merely due")
    assigned_to = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="tasks"
    )
    raised_at = models.DateTimeField()
    started_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_minutes = models.PositiveBigIntegerField(null=True, blank=True)
    proof = models.CharField(max_length=80, blank=True)
    withdrawn_reason = models.CharField(max_length=300, blank=True)
    withdrawn_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["applicability"],
                condition=Q(state__in=OPEN_STATES, applicability__isnull=False),
                name="one_open_task_per_applicability",
            ),
            models.UniqueConstraint(
                fields=["aircraft", "procedure", "scope"],
                condition=Q(state__in=OPEN_STATES, procedure__isnull=False),
                name="one_open_task_per_procedure_and_scope",
            ),
            models.CheckConstraint(
                condition=~Q(state="withdrawn") | ~Q(withdrawn_reason=""), name="withdrawn_task_has_a_reason"
            ),
            models.CheckConstraint(
                condition=~Q(state="closed") | (Q(closed_at__isnull=False) & ~Q(proof="")),
                name="closed_task_has_its_proof",
            ),
        ]
        indexes = [models.Index(fields=["operator", "state"]), models.Index(fields=["aircraft", "state"])]
        ordering = ["raised_at", "order", "id"]

    def __str__(self) -> str:
        return f"{self.title} on {self.aircraft}"

    @property
    def is_open(self) -> bool:
        """Whether the task still waits to be closed or withdrawn."""
        return self.state in OPEN_STATES


class TaskCause(models.Model):
    """Why a task exists: an event through a rule, a due limit, or a person's or trend's word. Append-only."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="causes")
    event = models.ForeignKey(Event, on_delete=models.PROTECT, null=True, blank=True, related_name="causes")
    rule = models.ForeignKey(
        TriggerRule, on_delete=models.PROTECT, null=True, blank=True, related_name="causes"
    )
    order = models.PositiveSmallIntegerField(default=1)
    words = models.CharField(max_length=400)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["event", "rule", "order"],
                condition=Q(event__isnull=False, rule__isnull=False),
                name="event_and_rule_raise_once",
            ),
        ]
        ordering = ["at", "id"]

    def __str__(self) -> str:
        return self.words


class TaskWait(models.Model):
    """`task` may not start before `first` is closed."""

    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="waits")
    first = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="holds")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["task", "first"], name="task_waits_once"),
            models.CheckConstraint(condition=~Q(task=F("first")), name="task_does_not_wait_for_itself"),
        ]

    def __str__(self) -> str:
        return f"{self.task_id} after {self.first_id}"


class ReliefCategory(models.Model):
    """A repair category of the operator's approved MEL: its clock is data with its source."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="relief_categories")
    code = models.CharField(max_length=4)
    days = models.PositiveSmallIntegerField(null=True, blank=True, help_text="empty: as the item states")
    excludes_day_of_record = models.BooleanField(default=True)
    starts_at = models.TimeField(
        default=time(0), help_text="when the clock starts on the day after the record"
    )
    source = models.CharField(max_length=160)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="relief_category_once_per_operator")
        ]
        ordering = ["code"]
        verbose_name_plural = "relief categories"

    def __str__(self) -> str:
        return self.code


class Relief(models.Model):
    """Approved MEL relief on one aircraft: while its clock runs the open items it covers restrict, not ground."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="reliefs")
    category = models.ForeignKey(ReliefCategory, on_delete=models.PROTECT, related_name="reliefs")
    item = models.CharField(max_length=80, help_text="item of the approved MEL")
    reference = models.CharField(max_length=120, help_text="MEL approval and revision")
    restriction = models.CharField(max_length=200, default="no flight into known or forecast icing")
    covers = models.CharField(max_length=16, choices=Consequence.choices, default=Consequence.ICING)
    recorded_at = models.DateTimeField()
    amount = models.PositiveIntegerField(default=1, help_text="days, flight days, minutes, cycles or flights")
    unit = models.CharField(max_length=12, default="days")
    at_deferral = models.PositiveBigIntegerField(
        null=True, blank=True, help_text="the counter when it was deferred, where it counts one"
    )
    ends_at = models.DateTimeField(
        null=True, blank=True, help_text="empty while its flights, hours or flight days are not used up"
    )
    granted_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("recorded_at")), name="relief_runs_forward"),
            models.UniqueConstraint(
                fields=["aircraft", "item"], condition=Q(closed_at=None), name="one_open_relief_per_item"
            ),
        ]
        ordering = ["ends_at"]

    def __str__(self) -> str:
        return f"{self.item} category {self.category.code}"
