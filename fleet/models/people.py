"""People, what they may do, and for which operator."""

from __future__ import annotations

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import F, Q

from fleet.common.actor import Role


class Operator(models.Model):
    """One operator; everything else belongs to exactly one, and strangers are told "not found"."""

    code = models.SlugField(unique=True, max_length=40)
    name = models.CharField(max_length=120)
    day_zone = models.CharField(
        max_length=64, default="UTC", help_text="zone of relief clocks and flight days"
    )
    mail_from = models.EmailField(blank=True)

    def __str__(self) -> str:
        return self.name


class Base(models.Model):
    """A place with hangars: its own zone, icing season and hour at which digests go out."""

    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="bases")
    code = models.SlugField(max_length=20)
    name = models.CharField(max_length=80)
    zone = models.CharField(max_length=64)
    season_start_month = models.PositiveSmallIntegerField(null=True, blank=True)
    season_start_day = models.PositiveSmallIntegerField(null=True, blank=True)
    season_end_month = models.PositiveSmallIntegerField(null=True, blank=True)
    season_end_day = models.PositiveSmallIntegerField(null=True, blank=True)
    day_starts_at = models.TimeField(default="00:00")
    digest_at = models.TimeField(default="06:30")
    quiet_from = models.TimeField(default="21:00")
    quiet_to = models.TimeField(default="06:00")
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["operator", "code"], name="base_code_once_per_operator"),
            models.CheckConstraint(
                condition=Q(season_start_month=None) | Q(season_start_month__range=(1, 12)),
                name="base_season_start_month_is_a_month",
            ),
            models.CheckConstraint(
                condition=Q(season_end_month=None) | Q(season_end_month__range=(1, 12)),
                name="base_season_end_month_is_a_month",
            ),
        ]
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class User(AbstractUser):
    """A person who signs in. Deleting one who signed is refused: their records name them.

    `must_change_password`: they hold a password somebody else has seen, and may do nothing before changing it.
    """

    must_change_password = models.BooleanField(default=False)
    version = models.PositiveIntegerField(default=1)

    @property
    def full_name(self) -> str:
        """First and last name, or the login where neither is known."""
        return self.get_full_name() or self.username


class Membership(models.Model):
    """This person holds this role at this operator, from this base."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="memberships")
    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=20, choices=[(role.value, role.value) for role in Role])
    base = models.ForeignKey(Base, on_delete=models.PROTECT, null=True, blank=True, related_name="members")

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["user", "operator", "role"], name="membership_role_once"),
            models.CheckConstraint(
                condition=Q(role__in=[role.value for role in Role]), name="membership_role_is_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.user} as {self.role}"


class Certificate(models.Model):
    """A licence somebody holds: its kind and number go into every entry they approve (14 CFR 43.9(a)(4))."""

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="certificates")
    kind = models.CharField(max_length=60)
    number = models.CharField(max_length=60)
    authority = models.CharField(max_length=80)
    issued_on = models.DateField()
    expires_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["authority", "number"], name="certificate_number_once_per_authority"
            ),
            models.CheckConstraint(
                condition=Q(expires_on=None) | Q(expires_on__gte=F("issued_on")),
                name="certificate_expires_after_issue",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.number}"


class Authorisation(models.Model):
    """The operator lets this person perform, inspect or release work within a scope, until it expires.

    `ata_chapters` empty means every chapter; `aircraft_type` empty means every type.
    """

    class Act(models.TextChoices):
        """What is authorised."""

        PERFORM = "perform", "perform and sign work"
        INSPECT = "inspect", "inspect independently"
        RELEASE = "release", "release to service"

    user = models.ForeignKey(User, on_delete=models.PROTECT, related_name="authorisations")
    operator = models.ForeignKey(Operator, on_delete=models.PROTECT, related_name="authorisations")
    act = models.CharField(max_length=12, choices=Act.choices)
    ata_chapters = models.JSONField(default=list, blank=True)
    aircraft_type = models.ForeignKey(
        "fleet.AircraftType", on_delete=models.PROTECT, null=True, blank=True, related_name="authorisations"
    )
    reference = models.CharField(max_length=60)
    valid_from = models.DateField()
    valid_to = models.DateField()
    granted_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="authorisations_granted")
    revoked_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(valid_to__gte=F("valid_from")), name="authorisation_ends_after_it_begins"
            ),
        ]
        ordering = ["user_id", "act", "valid_to"]

    def __str__(self) -> str:
        return f"{self.get_act_display()} ({self.reference})"


class ApiToken(models.Model):
    """A key for programs. Only its SHA-256 is stored; the key itself is shown once."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="api_tokens")
    operator = models.ForeignKey(Operator, on_delete=models.CASCADE, related_name="api_tokens")
    label = models.CharField(max_length=80)
    digest = models.CharField(max_length=64, unique=True)
    created_at = models.DateTimeField()
    expires_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.label


class Passkey(models.Model):
    """A public key that a person's device holds the secret of; counts as a fresh sign-in when signing."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="passkeys")
    label = models.CharField(max_length=80)
    credential_id = models.CharField(max_length=400, unique=True)
    public_key = models.CharField(max_length=1000)
    sign_count = models.PositiveBigIntegerField(default=0)
    created_at = models.DateTimeField()
    last_used_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return self.label
