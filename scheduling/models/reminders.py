"""Reminders as rows: written once by key, claimed by conditional update, sent once."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models import Aircraft, Base, Operator, User
from scheduling.models.procedures import Consequence
from scheduling.models.requirements import Applicability
from scheduling.models.tasks import Task


class Reminder(models.Model):
    """One message to one person about one due item at one rung of its ladder.

    `key` = item, due value, rung, recipient and channel: the same reminder can be written only once. `matter`
    is the same without recipient and channel: whoever acknowledges answers for all who were told. `detail` is
    what a program is told, frozen when written, so that a repeated sending says the same.
    """

    class Stage(models.TextChoices):
        """How far the matter has come."""

        BEFORE = "before", "ahead"
        REACHED = "reached", "due now"
        OVERDUE = "overdue", "overdue"
        ESCALATED = "escalated", "not acknowledged in time"
        DIGEST = "digest", "morning digest"
        TEST = "test", "test"

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
    stage = models.CharField(max_length=10, choices=Stage.choices, default=Stage.BEFORE)
    rung = models.CharField(max_length=40)
    matter = models.CharField(max_length=160, default="", db_index=True)
    key = models.CharField(max_length=200, unique=True)
    subject = models.CharField(max_length=200)
    words = models.TextField()
    detail = models.JSONField(default=dict, blank=True)
    digest = models.ForeignKey(
        "self", on_delete=models.SET_NULL, null=True, blank=True, related_name="gathered"
    )
    send_after = models.DateTimeField()
    written_at = models.DateTimeField()
    claimed_at = models.DateTimeField(null=True, blank=True)
    claimed_by = models.CharField(max_length=60, blank=True)
    attempts = models.PositiveSmallIntegerField(default=0)
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_reason = models.CharField(max_length=300, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    acknowledge_by = models.DateTimeField(null=True, blank=True)
    acknowledged_at = models.DateTimeField(null=True, blank=True)
    snoozed_until = models.DateTimeField(null=True, blank=True)
    snooze_reason = models.CharField(max_length=200, blank=True)
    escalated_at = models.DateTimeField(null=True, blank=True)
    settled_at = models.DateTimeField(
        null=True, blank=True, help_text="the matter stands otherwise since: done, or at a further step"
    )

    class Meta:
        indexes = [
            models.Index(
                fields=["send_after"],
                condition=Q(sent_at=None, settled_at=None, failed_reason=""),
                name="reminders_waiting",
            ),
            models.Index(fields=["recipient", "-send_after"]),
            models.Index(
                fields=["acknowledge_by"],
                condition=Q(acknowledged_at=None, escalated_at=None, acknowledge_by__isnull=False),
                name="reminders_to_acknowledge",
            ),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(recipient__isnull=False) | Q(endpoint__isnull=False),
                name="reminder_goes_to_somebody",
            ),
            models.CheckConstraint(
                condition=Q(snoozed_until=None) | ~Q(snooze_reason=""), name="snoozed_reminder_has_a_reason"
            ),
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
    disabled_reason = models.CharField(max_length=200, blank=True)
    created_at = models.DateTimeField()

    def __str__(self) -> str:
        return self.label


class ReminderLadder(models.Model):
    """The operator's own steps for everything with one consequence; without a row the usual ladder holds."""

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="reminder_ladders")
    consequence = models.CharField(max_length=16, choices=Consequence.choices)
    steps = models.JSONField(help_text="what `scheduling.due.ladder.ladder_from_data` reads")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "consequence"], name="ladder_once_per_consequence")
        ]
        ordering = ["consequence"]

    def __str__(self) -> str:
        return f"ladder for {self.consequence}"


class ReminderChoice(models.Model):
    """How one person wants mail: one digest in the morning, each at once, or none (the product always shows all)."""

    class ByMail(models.TextChoices):
        """When mail goes out."""

        DIGEST = "digest", "one digest each morning"
        AT_ONCE = "at_once", "each reminder at once, outside quiet hours"
        NONE = "none", "no mail"

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="+")
    person = models.ForeignKey(User, on_delete=models.CASCADE, related_name="reminder_choices")
    by_mail = models.CharField(max_length=8, choices=ByMail.choices, default=ByMail.DIGEST)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "person"], name="reminder_choice_once_per_person")
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.by_mail}"


class CalendarEntry(models.Model):
    """What a calendar was last told about one thing: SEQUENCE and DTSTAMP move when its content does."""

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="+")
    uid = models.CharField(max_length=255)
    digest = models.CharField(max_length=64)
    sequence = models.PositiveIntegerField(default=0)
    modified_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "uid"], name="calendar_uid_once_per_operator")
        ]
        verbose_name_plural = "calendar entries"

    def __str__(self) -> str:
        return self.uid


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
