"""Who did what to which, and the receipts that make repeating a command harmless."""

from __future__ import annotations

from django.db import models

from fleet.models.people import Operator, User


class TrailEntry(models.Model):
    """One line of the trail. Append-only; every service writes one as its last line."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="trail")
    at = models.DateTimeField()
    actor = models.ForeignKey(User, on_delete=models.PROTECT, null=True, related_name="+")
    actor_name = models.CharField(max_length=150)
    action = models.CharField(max_length=60)
    subject = models.CharField(max_length=60, help_text="kind of thing, e.g. aircraft")
    subject_id = models.CharField(max_length=40)
    words = models.CharField(max_length=400)
    detail = models.JSONField(default=dict)

    class Meta:
        indexes = [
            models.Index(fields=["operator", "-at"]),
            models.Index(fields=["operator", "subject", "subject_id"]),
        ]
        ordering = ["-at", "-id"]
        verbose_name_plural = "trail entries"

    def __str__(self) -> str:
        return self.words


class Receipt(models.Model):
    """The answer once given to a command that carried a key; the same key gets the same answer again."""

    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="receipts")
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="receipts")
    key = models.CharField(max_length=100)
    request_digest = models.CharField(max_length=64)
    status = models.PositiveSmallIntegerField()
    body = models.JSONField(null=True)
    headers = models.JSONField(default=dict)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "user", "key"], name="receipt_key_once_per_user")
        ]

    def __str__(self) -> str:
        return self.key
