"""The week: bays, shifts, and the plan that places tasks in them."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from fleet.models import Aircraft, Base, Equipment, Operator, User
from scheduling.models.tasks import Task


class Bay(models.Model):
    """A place in a hangar where one aircraft can be worked on."""

    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="bays")
    name = models.CharField(max_length=40)
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["base", "name"], name="bay_name_once_per_base")]
        ordering = ["base_id", "name"]

    def __str__(self) -> str:
        return self.name


class Shift(models.Model):
    """A person is at a base and available for work from one moment to another."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="shifts")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="shifts")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    note = models.CharField(max_length=80, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="shift_runs_forward")
        ]
        indexes = [models.Index(fields=["base", "starts_at"])]
        ordering = ["starts_at"]

    def __str__(self) -> str:
        return f"{self.person} {self.starts_at:%d %b %H:%M}"


class GroundTime(models.Model):
    """An aircraft is on the ground at a base and may be worked on."""

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="ground_times")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="ground_times")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="ground_time_runs_forward")
        ]
        ordering = ["starts_at"]

    def __str__(self) -> str:
        return f"{self.aircraft} {self.starts_at:%d %b %H:%M}"


class WeekPlan(models.Model):
    """One week at one base: asked for, solved, looked at, published."""

    class State(models.TextChoices):
        """How far the plan has come."""

        ASKED = "asked", "asked for"
        SOLVING = "solving", "being worked out"
        DRAFT = "draft", "draft"
        PUBLISHED = "published", "published"
        REPLACED = "replaced", "replaced"
        FAILED = "failed", "failed"

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="week_plans")
    base = models.ForeignKey(Base, on_delete=models.PROTECT, related_name="week_plans")
    monday = models.DateField()
    state = models.CharField(max_length=12, choices=State.choices, default=State.ASKED)
    asked_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    asked_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    solved_at = models.DateTimeField(null=True, blank=True)
    published_at = models.DateTimeField(null=True, blank=True)
    published_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    outcome = models.JSONField(
        default=dict, blank=True, help_text="cost, bound and reasons of what was not placed"
    )
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["base", "monday"], condition=Q(state="published"), name="one_published_plan_per_week"
            ),
            models.UniqueConstraint(
                fields=["base", "monday"],
                condition=Q(state__in=["asked", "solving", "draft"]),
                name="one_plan_in_hand_per_week",
            ),
        ]
        ordering = ["-monday", "-id"]

    def __str__(self) -> str:
        return f"{self.base} week of {self.monday}"


class Slot(models.Model):
    """One task in one bay, from one moment to another, with its people and equipment."""

    plan = models.ForeignKey(WeekPlan, on_delete=models.CASCADE, related_name="slots")
    task = models.ForeignKey(Task, on_delete=models.CASCADE, related_name="slots")
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, null=True, blank=True, related_name="slots")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    people = models.ManyToManyField(User, related_name="slots")
    equipment = models.ManyToManyField(Equipment, related_name="slots", blank=True)
    is_pinned = models.BooleanField(default=False, help_text="moved by hand; the solver leaves it there")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_at__gt=F("starts_at")), name="slot_starts_before_it_ends"
            ),
            models.UniqueConstraint(fields=["plan", "task"], name="task_once_per_plan"),
        ]
        ordering = ["starts_at", "id"]

    def __str__(self) -> str:
        return f"{self.task} {self.starts_at:%d %b %H:%M}"
