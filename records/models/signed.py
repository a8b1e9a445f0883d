"""Signatures and sealed records. Nothing here is ever changed or deleted: the database refuses."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from fleet.models import Aircraft, Operator, User
from records.models.runs import BenchRun


class Signature(models.Model):
    """One person signed what they were shown. Certificate and authorisation are copied in as they stood.

    `content_digest` is the SHA-256 of the exact content shown; a later difference breaks the signature.
    """

    class Meaning(models.TextChoices):
        """What the signature attests."""

        PERFORMED = "performed", "performed the work as described"
        INSPECTED = "inspected", "inspected the work independently"

    class Proof(models.TextChoices):
        """How the signer proved who they are at that moment."""

        PASSWORD = "password", "password"
        PASSKEY = "passkey", "passkey"

    run = models.ForeignKey(BenchRun, on_delete=models.PROTECT, related_name="signatures")
    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="signatures")
    name = models.CharField(max_length=150)
    meaning = models.CharField(max_length=12, choices=Meaning.choices)
    certificate_kind = models.CharField(max_length=60)
    certificate_number = models.CharField(max_length=60)
    authorisation = models.CharField(max_length=60)
    proof = models.CharField(max_length=12, choices=Proof.choices)
    content_digest = models.CharField(max_length=64)
    signed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["run", "meaning"], name="one_signature_per_meaning_and_run"),
            models.UniqueConstraint(fields=["run", "user"], name="one_signature_per_person_and_run"),
            models.CheckConstraint(
                condition=~Q(certificate_number="") & ~Q(certificate_kind=""),
                name="signature_names_a_certificate",
            ),
        ]
        ordering = ["signed_at", "id"]

    def __str__(self) -> str:
        return f"{self.name} {self.meaning}"


class SignedRecord(models.Model):
    """One sealed record in the chain of one aircraft: canonical text (RFC 8785), digest, previous digest.

    An amendment is a new record that names the one it amends; the old one stays readable.
    """

    class Kind(models.TextChoices):
        """Which completeness rule applied (14 CFR 43.9 or 43.11)."""

        WORK = "work", "work entry"
        INSPECTION = "inspection", "inspection entry"
        AMENDMENT = "amendment", "amendment"

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="signed_records")
    aircraft = models.ForeignKey(Aircraft, on_delete=models.PROTECT, related_name="signed_records")
    number = models.CharField(max_length=40, help_text="registration and sequence, e.g. QX-SKA-000012")
    sequence = models.PositiveIntegerField()
    kind = models.CharField(max_length=12, choices=Kind.choices)
    run = models.OneToOneField(
        BenchRun, on_delete=models.PROTECT, null=True, blank=True, related_name="record"
    )
    amends = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="amendments"
    )
    title = models.CharField(max_length=160)
    verdict = models.CharField(max_length=20, blank=True)
    completed_on = models.DateField()
    canonical = models.TextField()
    previous_digest = models.CharField(max_length=64)
    digest = models.CharField(max_length=64, unique=True)
    sealed_at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["aircraft", "sequence"], name="record_sequence_once_per_aircraft"
            ),
            models.UniqueConstraint(fields=["operator", "number"], name="record_number_once_per_operator"),
            models.CheckConstraint(condition=Q(sequence__gte=1), name="record_sequence_starts_at_one"),
            models.CheckConstraint(
                condition=~Q(kind="amendment") | Q(amends__isnull=False),
                name="amendment_names_what_it_amends",
            ),
        ]
        indexes = [models.Index(fields=["operator", "-sealed_at"])]
        ordering = ["aircraft_id", "sequence"]

    def __str__(self) -> str:
        return self.number
