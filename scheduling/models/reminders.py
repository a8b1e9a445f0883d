"""Reminders as rows: written once by key, claimed by conditional update, sent once."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models import Aircraft, Base, Operator, User
from scheduling.models.requirements import Applicability
from scheduling.models.tasks import Task


class Reminder(models.Model):
    """One message to one person about one due item at one rung of its ladder.

    `key` = item, due value, rung, recipient and channel: the same reminder can be written only once.
    """

    class Channel(models.TextChoices):
        """How it reaches the person."""

        PRODUCT = "product", "in the product"
        MAIL = "mail", "mail"
        WEBHOOK = "webhook", "signed webhook"

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="reminders")
    applicability = models.ForeignKey(
        Applicability, on_delete=models.CASCADE, null=True, blank=True, related_name="reminders"
    )
    task = models.ForeignKey(Task, on_delete=models.CASCADE, null=True, blank=True, related_name="reminders")
    recipient = models.ForeignKey(
        User, on_delete=models.CASCADE, null=True, blank=True, related_name="reminders"
    )
    endpoint = models.ForeignKey(
        "scheduling.WebhookEndpoint",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="reminders",
    )
    channel = models.CharField(max_length=8, choices=Channel.choices)
    rung = models.CharField(max_length=40)
    key = models.CharField(max_length=200, unique=True)
    subject = models.CharField(max_length=200)
    words = models.TextField()
    send_after = models.DateTimeField()
    written_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    claimed_by = models.CharField(max_length=60, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_reason = models.CharField(max_length=300, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    snoozed_until = models.DateTimeField(null=True, blank=True)
    snooze_reason = models.CharField(max_length=200, blank=True)
    escalated_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [
            models.Index(fields=["send_after"], condition=Q(sent_at=None), name="reminders_waiting"),
            models.Index(fields=["recipient", "-send_after"]),
        ]
        ordering = ["-send_after", "-id"]

    def __str__(self) -> str:
        return self.subject


class WebhookEndpoint(models.Model):
    """Where signed webhooks go (Standard Webhooks): the secret signs id, timestamp and body."""

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="webhook_endpoints")
    url = models.URLField(max_length=400)
    secret = models.CharField(max_length=120)
    label = models.CharField(max_length=80)
    is_enabled = models.BooleanField(default=True)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.label


class CalendarLink(models.Model):
    """A secret address of a calendar feed for a person, a base or an aircraft; revoking it ends it."""

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="calendar_links")
    owner = models.ForeignKey(User, on_delete=models.CASCADE, related_name="calendar_links")
    digest = models.CharField(max_length=64, unique=True)
    label = models.CharField(max_length=80)
    base = models.ForeignKey(Base, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    aircraft = models.ForeignKey(Aircraft, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    created_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.label
