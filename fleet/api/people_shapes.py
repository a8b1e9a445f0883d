"""Shapes of people, certificates, authorisations, keys for programs and the trail."""

from __future__ import annotations

from rest_framework import serializers as s

from fleet.common.actor import Role
from fleet.models import Authorisation, User


class CertificateSent(s.Serializer):
    """A licence as printed."""

    kind = s.CharField(max_length=60)
    number = s.CharField(max_length=60)
    authority = s.CharField(max_length=80)
    issued_on = s.DateField()
    expires_on = s.DateField(required=False, allow_null=True, default=None)


class CertificateAnswer(CertificateSent):
    """A licence somebody holds."""

    id = s.IntegerField()


class AuthorisationSent(s.Serializer):
    """What the operator lets somebody do; no chapters means every chapter, no type every type."""

    act = s.CharField(max_length=12, help_text=", ".join(Authorisation.Act.values))
    ata_chapters = s.ListField(child=s.CharField(max_length=8), required=False, default=list)
    aircraft_type = s.CharField(max_length=40, required=False, default="", allow_blank=True)
    reference = s.CharField(max_length=60)
    valid_from = s.DateField()
    valid_to = s.DateField()


class AuthorisationAnswer(s.Serializer):
    """What the operator lets somebody do."""

    id = s.IntegerField()
    person = s.IntegerField(source="user_id")
    act = s.CharField()
    ata_chapters = s.ListField(child=s.CharField())
    aircraft_type = s.SerializerMethodField()
    reference = s.CharField()
    valid_from = s.DateField()
    valid_to = s.DateField()
    granted_by = s.IntegerField(source="granted_by_id")
    revoked_on = s.DateField(allow_null=True)

    def get_aircraft_type(self, row: Authorisation) -> str:
        """The code of the type, empty for every type."""
        return row.aircraft_type.code if row.aircraft_type else ""


class ColleagueSent(s.Serializer):
    """Somebody who gets an account here."""

    username = s.CharField(max_length=150)
    first_name = s.CharField(max_length=150, required=False, default="", allow_blank=True)
    last_name = s.CharField(max_length=150)
    email = s.EmailField(required=False, default="", allow_blank=True)
    roles = s.ListField(child=s.CharField(max_length=20), help_text=", ".join(Role))
    base = s.CharField(max_length=20, required=False, default="", allow_blank=True)


class ColleagueChange(s.Serializer):
    """Somebody's name and address, and whether the account is open."""

    first_name = s.CharField(max_length=150, required=False, allow_blank=True)
    last_name = s.CharField(max_length=150, required=False)
    email = s.EmailField(required=False, allow_blank=True)
    is_active = s.BooleanField(required=False)


class RolesSent(s.Serializer):
    """What somebody is here, and from which base."""

    roles = s.ListField(child=s.CharField(max_length=20), help_text=", ".join(Role))
    base = s.CharField(max_length=20, required=False, default="", allow_blank=True)


class ColleagueAnswer(s.Serializer):
    """Somebody with a role here."""

    id = s.IntegerField()
    username = s.CharField()
    first_name = s.CharField()
    last_name = s.CharField()
    email = s.CharField()
    is_active = s.BooleanField()
    must_change_password = s.BooleanField()
    roles = s.SerializerMethodField()
    certificates = CertificateAnswer(many=True)
    version = s.IntegerField()

    def get_roles(self, person: User) -> list[str]:
        """The roles here."""
        here = self.context["operator_id"]
        return sorted(row.role for row in person.memberships.all() if row.operator_id == here)


class OneTimePasswordAnswer(s.Serializer):
    """A password that is shown once and must be changed at the first sign-in."""

    person = s.IntegerField()
    one_time_password = s.CharField()


class NewColleagueAnswer(ColleagueAnswer):
    """Somebody new, with the one-time password."""

    one_time_password = s.CharField()


class ProgramKeySent(s.Serializer):
    """A key for a program that acts as oneself."""

    label = s.CharField(max_length=80)  # type: ignore[assignment]
    expires_at = s.DateTimeField(required=False, allow_null=True, default=None)


class ProgramKeyAnswer(s.Serializer):
    """A key for a program; the key itself is never shown again."""

    id = s.IntegerField()
    label = s.CharField()  # type: ignore[assignment]
    created_at = s.DateTimeField()
    expires_at = s.DateTimeField(allow_null=True)
    last_used_at = s.DateTimeField(allow_null=True)
    revoked_at = s.DateTimeField(allow_null=True)


class NewProgramKeyAnswer(ProgramKeyAnswer):
    """A new key; `key` is shown this once."""

    key = s.CharField()


class TrailAsked(s.Serializer):
    """Which lines of the trail."""

    subject = s.CharField(required=False, default="")
    q = s.CharField(required=False, default="")


class TrailAnswer(s.Serializer):
    """Who did what to which."""

    id = s.IntegerField()
    at = s.DateTimeField()
    actor = s.CharField(source="actor_name")
    action = s.CharField()
    subject = s.CharField()
    subject_id = s.CharField()
    words = s.CharField()
    detail = s.JSONField()
