"""What happened to an aircraft, and the rules that turn it into work."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models import Aircraft, Component, Operator, Position, User


class EventKind(models.Model):
    """A kind of happening, as data: what must be named with it and how it changes the configuration."""

    class Change(models.TextChoices):
        """What the event does to the installed configuration."""

        NONE = "none", "changes nothing"
        REPLACE = "replace", "one component comes off, another goes on"
        REFIT = "refit", "the same component comes off and goes back"
        REMOVE = "remove", "a component comes off"
        FIT = "fit", "a component goes on"

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="event_kinds")
    code = models.SlugField(max_length=40)
    name = models.CharField(max_length=100)
    change = models.CharField(max_length=8, choices=Change.choices, default=Change.NONE)
    component_kinds = models.JSONField(
        default=list, blank=True, help_text="kinds whose positions may be named"
    )
    needs_position = models.BooleanField(default=False)
    restarts_baseline = models.BooleanField(default=False, help_text="a trend starts a new baseline here")
    is_reported_by_people = models.BooleanField(default=True)
    is_defect = models.BooleanField(
        default=False, help_text="something was found wrong: its work is closed, not withdrawn"
    )
    order = models.PositiveSmallIntegerField(default=0)
    retired_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="event_kind_code_once_per_operator")
        ]
        ordering = ["order", "name"]

    def __str__(self) -> str:
        return self.name


class Event(models.Model):
    """Something happened to an aircraft. Append-only: a mistaken one is answered by withdrawing its tasks.

    `key` makes sending it twice harmless.
    """

    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="events")
    kind = models.ForeignKey(EventKind, on_delete=models.PROTECT, related_name="events")
    at = models.DateTimeField()
    position = models.ForeignKey(Position, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    component_off = models.ForeignKey(
        Component, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    component_on = models.ForeignKey(
        Component, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.TextField(blank=True)
    detail = models.JSONField(default=dict, blank=True)
    photo = models.FileField(upload_to="events/", blank=True)
    key = models.CharField(max_length=100)
    reported_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    reported_by_name = models.CharField(max_length=150)
    reported_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["aircraft", "key"], name="event_key_once_per_aircraft")
        ]
        ordering = ["-at", "-id"]

    def __str__(self) -> str:
        return f"{self.kind} on {self.aircraft}"


class TriggerRule(models.Model):
    """One version of a rule: which events, where, with which options, raise which work in which order.

    `content` is what `scheduling.triggers.rule_from_data` reads.
    """

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="trigger_rules")
    code = models.SlugField(max_length=40)
    version = models.PositiveIntegerField(default=1)
    is_current = models.BooleanField(default=True)
    is_enabled = models.BooleanField(default=True)
    event_kind = models.ForeignKey(EventKind, on_delete=models.PROTECT, related_name="rules")
    title = models.CharField(max_length=120)
    content = models.JSONField()
    source = models.CharField(max_length=160)
    written_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    written_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code", "version"], name="trigger_rule_version_once"),
            models.UniqueConstraint(
                fields=["operator", "code"], condition=Q(is_current=True), name="one_current_rule_per_code"
            ),
        ]
        ordering = ["code", "-version"]

    def __str__(self) -> str:
        return f"{self.code} {self.title}"
