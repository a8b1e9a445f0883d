"""People, what they may do, their keys, and the trail of what was done.

Answers that hold a password or a key are never kept, so those commands take no Idempotency-Key.
"""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework.request import Request
from rest_framework.response import Response

from fleet.api import people_shapes as shapes
from fleet.api.answers import EDIT_REFUSALS, IF_MATCH, KEY, PAGING, REFUSALS, paged
from fleet.api.base import ApiView, CommandView
from fleet.common.http import entity_tag
from fleet.models import User
from fleet.selectors.aircraft import aircraft_type_for
from fleet.selectors.people import authorisations, base_for, own_keys, people, person_for, trail
from fleet.services.people import (
    NewAuthorisation,
    NewCertificate,
    NewPerson,
    add_certificate,
    add_person,
    change_person,
    create_token,
    grant_authorisation,
    reset_password,
    revoke_authorisation,
    revoke_token,
    set_active,
    set_roles,
)


def tag_of(person: User) -> str:
    """The entity tag of a person; an account that was closed or opened has another."""
    return entity_tag("person", person.pk, f"{person.version}-{int(person.is_active)}")


class PersonDoor(CommandView):
    """What the doors of people share."""

    def shown(self, person: User, shape: type = shapes.ColleagueAnswer) -> dict[str, Any]:
        """A person as sent."""
        data: dict[str, Any] = shape(person, context={"operator_id": self.actor.operator_id}).data
        return data

    def answered(self, person_id: int) -> Response:
        """The person with the entity tag."""
        person = person_for(self.actor, person_id)
        return Response(self.shown(person), headers={"ETag": tag_of(person)})

    def base_id(self, code: str) -> int | None:
        """The key of the base of that code; None where none was named."""
        return base_for(self.actor, code).pk if code else None


class PersonListView(PersonDoor):
    """Everybody with a role here."""

    @extend_schema(
        operation_id="people_list", parameters=PAGING, responses={200: paged(shapes.ColleagueAnswer)}
    )
    def get(self, request: Request) -> Response:
        """People with their roles and certificates."""
        rows = people(self.actor).prefetch_related("memberships", "certificates")
        context = {"operator_id": self.actor.operator_id}
        return self.page(rows, shapes.ColleagueAnswer, "id", context)

    @extend_schema(
        operation_id="people_add",
        request=shapes.ColleagueSent,
        responses={201: shapes.NewColleagueAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Open an account; its one-time password is in this answer and nowhere else."""
        sent = self.parsed(shapes.ColleagueSent)
        new = NewPerson(base_id=self.base_id(sent.pop("base")), **sent)
        person, password = add_person(actor=self.actor, new=new)
        data = self.shown(person) | {"one_time_password": password}
        return Response(data, status=201, headers={"Location": f"/api/v1/people/{person.pk}/"})


class PersonView(PersonDoor):
    """One person."""

    http_method_names = ["get", "patch", "head", "options"]

    @extend_schema(operation_id="people_get", responses={200: shapes.ColleagueAnswer, **REFUSALS})
    def get(self, request: Request, person_id: int) -> Response:
        """The person with the entity tag."""
        return self.answered(person_id)

    @extend_schema(
        operation_id="people_change",
        parameters=[IF_MATCH],
        request=shapes.ColleagueChange,
        responses={200: shapes.ColleagueAnswer, **EDIT_REFUSALS},
    )
    def patch(self, request: Request, person_id: int) -> Response:
        """Change name or address, or close and open the account."""
        person = person_for(self.actor, person_id)
        self.must_match(tag_of(person))
        sent = self.parsed(shapes.ColleagueChange)
        names = {name: sent.get(name, getattr(person, name)) for name in ("first_name", "last_name", "email")}
        change_person(actor=self.actor, person_id=person_id, version=person.version, **names)
        if "is_active" in sent:
            set_active(actor=self.actor, person_id=person_id, is_active=sent["is_active"])
        return self.answered(person_id)


class RolesView(PersonDoor):
    """Somebody's roles."""

    @extend_schema(
        operation_id="people_set_roles",
        parameters=[KEY],
        request=shapes.RolesSent,
        responses={200: shapes.ColleagueAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Say what somebody is here."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Say it once."""
        sent = self.parsed(shapes.RolesSent)
        set_roles(actor=self.actor, **url, roles=sent["roles"], base_id=self.base_id(sent["base"]))
        return self.answered(url["person_id"])


class PasswordResetView(ApiView):
    """A new one-time password."""

    @extend_schema(
        operation_id="people_reset_password",
        request=None,
        responses={200: shapes.OneTimePasswordAnswer, **REFUSALS},
    )
    def post(self, request: Request, person_id: int) -> Response:
        """Give somebody a one-time password; it is in this answer and nowhere else."""
        password = reset_password(actor=self.actor, person_id=person_id)
        return Response({"person": person_id, "one_time_password": password})


class CertificateListView(CommandView):
    """Somebody's certificates."""

    @extend_schema(
        operation_id="people_add_certificate",
        parameters=[KEY],
        request=shapes.CertificateSent,
        responses={201: shapes.CertificateAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Enter a licence."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Enter it once."""
        row = add_certificate(
            actor=self.actor, new=NewCertificate(**url, **self.parsed(shapes.CertificateSent))
        )
        return Response(shapes.CertificateAnswer(row).data, status=201)


class AuthorisationListView(ApiView):
    """Authorisations the operator granted."""

    @extend_schema(
        operation_id="authorisations_list",
        parameters=PAGING,
        responses={200: paged(shapes.AuthorisationAnswer)},
    )
    def get(self, request: Request) -> Response:
        """Every authorisation, the newest first."""
        return self.page(authorisations(self.actor), shapes.AuthorisationAnswer, "-id")


class GrantView(CommandView):
    """Somebody's authorisations."""

    @extend_schema(
        operation_id="people_authorise",
        parameters=[KEY],
        request=shapes.AuthorisationSent,
        responses={201: shapes.AuthorisationAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Let somebody perform, inspect or release within a scope."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Grant it once."""
        sent = self.parsed(shapes.AuthorisationSent)
        code = sent.pop("aircraft_type")
        type_id = aircraft_type_for(self.actor, code).pk if code else None
        new = NewAuthorisation(aircraft_type_id=type_id, **url, **sent)
        row = grant_authorisation(actor=self.actor, new=new)
        return Response(shapes.AuthorisationAnswer(row).data, status=201)


class RevokeView(CommandView):
    """The end of an authorisation."""

    @extend_schema(
        operation_id="authorisations_revoke",
        parameters=[KEY],
        request=None,
        responses={200: shapes.AuthorisationAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Revoke it from today; past signatures stay valid."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Revoke it once."""
        return Response(shapes.AuthorisationAnswer(revoke_authorisation(actor=self.actor, **url)).data)


class ProgramKeyListView(ApiView):
    """One's own keys for programs."""

    @extend_schema(
        operation_id="tokens_list", parameters=PAGING, responses={200: paged(shapes.ProgramKeyAnswer)}
    )
    def get(self, request: Request) -> Response:
        """One's own keys, newest first."""
        return self.page(own_keys(self.actor), shapes.ProgramKeyAnswer, "-id")

    @extend_schema(
        operation_id="tokens_create",
        request=shapes.ProgramKeySent,
        responses={201: shapes.NewProgramKeyAnswer, **REFUSALS},
    )
    def post(self, request: Request) -> Response:
        """Make a key; it is in this answer and nowhere else."""
        token, key = create_token(actor=self.actor, **self.parsed(shapes.ProgramKeySent))
        return Response(shapes.ProgramKeyAnswer(token).data | {"key": key}, status=201)


class ProgramKeyRevokeView(CommandView):
    """The end of a key."""

    @extend_schema(
        operation_id="tokens_revoke",
        parameters=[KEY],
        request=None,
        responses={200: shapes.ProgramKeyAnswer, **REFUSALS},
    )
    def post(self, request: Request, **url: Any) -> Response:
        """Revoke a key of one's own; an administrator, anybody's here."""
        return super().post(request, **url)

    def command(self, request: Request, **url: Any) -> Response:
        """Revoke it once."""
        return Response(shapes.ProgramKeyAnswer(revoke_token(actor=self.actor, **url)).data)


class TrailView(ApiView):
    """Who did what to which."""

    @extend_schema(
        operation_id="trail_list",
        parameters=[shapes.TrailAsked, *PAGING],
        responses={200: paged(shapes.TrailAnswer), **REFUSALS},
    )
    def get(self, request: Request) -> Response:
        """Lines of the trail, newest first, narrowed by kind of thing and words."""
        wanted = self.query(shapes.TrailAsked)
        rows = trail(self.actor, words=wanted["q"], subject=wanted["subject"])
        return self.page(rows, shapes.TrailAnswer, ("-at", "-id"))
