"""People and what they may do: accounts with a one-time password, roles, certificates, authorisations, tokens."""

from __future__ import annotations

import secrets
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from functools import partial

from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Q

from fleet.common.actor import Actor, Role, Verb, require
from fleet.common.clock import now
from fleet.common.errors import Conflict, NotAllowed, NotFound, Reason, check_version, wrong
from fleet.common.keys import digest_of, new_key
from fleet.common.wording import day as day_words
from fleet.models import ApiToken, Authorisation, Base, Certificate, Membership, User
from fleet.selectors.people import person_for
from fleet.services.trail import note

_wrong = partial(wrong, code="bad_person")


@dataclass(frozen=True, slots=True)
class NewPerson:
    """Somebody who gets an account here."""

    username: str
    first_name: str
    last_name: str
    email: str = ""
    roles: Sequence[str] = ()
    base_id: int | None = None


@dataclass(frozen=True, slots=True)
class NewCertificate:
    """A licence as printed."""

    person_id: int
    kind: str
    number: str
    authority: str
    issued_on: date
    expires_on: date | None = None


@dataclass(frozen=True, slots=True)
class NewAuthorisation:
    """What the operator lets somebody do. No chapters means every chapter, no type every type."""

    person_id: int
    act: str
    reference: str
    valid_from: date
    valid_to: date
    ata_chapters: Sequence[str] = field(default=())
    aircraft_type_id: int | None = None


@transaction.atomic
def add_person(*, actor: Actor, new: NewPerson) -> tuple[User, str]:
    """Open an account with a random one-time password, returned once. Refuses a taken name and no role."""
    require(actor, Verb.EDIT_PEOPLE)
    username = new.username.strip()
    if not username:
        raise _wrong("username", "", "is missing", "choose a name to sign in with")
    if User.objects.filter(username__iexact=username).exists():
        raise Conflict(
            "name_taken", "This name is taken.", Reason("is taken", "username", username, "choose another")
        )
    password = secrets.token_urlsafe(12)
    person = User(
        username=username,
        first_name=new.first_name.strip(),
        last_name=new.last_name.strip(),
        email=new.email.strip(),
        must_change_password=True,
    )
    person.set_password(password)
    person.save()
    _give_roles(actor, person, new.roles, new.base_id)
    note(
        actor,
        "add_person",
        "person",
        person.pk,
        f"{person.full_name} added as {', '.join(sorted(new.roles))}",
    )
    return person, password


@transaction.atomic
def change_person(
    *, actor: Actor, person_id: int, first_name: str, last_name: str, email: str, version: int | None = None
) -> User:
    """Put somebody's name or address right; the name they sign in with stays. Refuses a stale copy."""
    require(actor, Verb.EDIT_PEOPLE)
    person = User.objects.select_for_update().get(pk=person_for(actor, person_id).pk)
    check_version(person.version, version)
    if not last_name.strip():
        raise _wrong("last_name", "", "is missing", "enter the name records will carry")
    person.first_name, person.last_name = first_name.strip(), last_name.strip()
    person.email = email.strip()
    person.version += 1
    person.save(update_fields=["first_name", "last_name", "email", "version"])
    note(actor, "change_person", "person", person.pk, f"Name or address of {person.full_name} changed")
    return person


@transaction.atomic
def set_roles(*, actor: Actor, person_id: int, roles: Sequence[str], base_id: int | None) -> User:
    """Change what somebody is here. Refuses taking the last administrator's role, and no role at all."""
    require(actor, Verb.EDIT_PEOPLE)
    person = person_for(actor, person_id)
    others = Membership.objects.filter(operator_id=actor.operator_id, role=Role.ADMINISTRATOR).exclude(
        user=person
    )
    if Role.ADMINISTRATOR not in roles and not others.exists():
        raise Conflict("last_administrator", "Somebody must stay administrator here.")
    Membership.objects.filter(user=person, operator_id=actor.operator_id).delete()
    _give_roles(actor, person, roles, base_id)
    note(actor, "set_roles", "person", person.pk, f"{person.full_name} is now {', '.join(sorted(roles))}")
    return person


def _give_roles(actor: Actor, person: User, roles: Sequence[str], base_id: int | None) -> None:
    unknown = set(roles) - set(Role)
    if unknown or not roles:
        shown = ", ".join(sorted(unknown))
        raise _wrong("roles", shown, "is no role" if unknown else "is missing", f"use: {', '.join(Role)}")
    if base_id is not None and not Base.objects.filter(pk=base_id, operator_id=actor.operator_id).exists():
        raise _wrong("base", str(base_id), "is no base here", "choose one of the list")
    Membership.objects.bulk_create(
        Membership(user=person, operator_id=actor.operator_id, role=role, base_id=base_id)
        for role in sorted(set(roles))
    )


@transaction.atomic
def set_active(*, actor: Actor, person_id: int, is_active: bool) -> User:
    """Close or reopen an account. What was signed stays valid; tokens end. Nobody closes their own."""
    require(actor, Verb.EDIT_PEOPLE)
    person = person_for(actor, person_id)
    if person.pk == actor.user_id and not is_active:
        raise NotAllowed("own_account", "You cannot close your own account.")
    person.is_active = is_active
    person.save(update_fields=["is_active"])
    if not is_active:
        ApiToken.objects.filter(user=person, revoked_at=None).update(revoked_at=now())
    note(actor, "set_active", "person", person.pk, f"{person.full_name}: {'open' if is_active else 'closed'}")
    return person


@transaction.atomic
def reset_password(*, actor: Actor, person_id: int) -> str:
    """Give somebody a new one-time password, returned once; they choose their own at the next sign-in."""
    require(actor, Verb.EDIT_PEOPLE)
    person = person_for(actor, person_id)
    password = secrets.token_urlsafe(12)
    person.set_password(password)
    person.must_change_password = True
    person.save(update_fields=["password", "must_change_password"])
    note(actor, "reset_password", "person", person.pk, f"One-time password for {person.full_name}")
    return password


@transaction.atomic
def change_own_password(*, actor: Actor, old: str, new: str) -> User:
    """Choose a password of one's own. Refuses a wrong old one and a weak or unchanged new one."""
    user = User.objects.filter(pk=actor.user_id or 0).first()
    if user is None:
        raise NotAllowed("person_needed", "Only a person has a password.")
    if not user.check_password(old):
        raise _wrong("old_password", "", "is not right", "enter the password you signed in with")
    if old == new:
        raise _wrong("new_password", "", "is the old one", "choose another")
    try:
        validate_password(new, user)
    except ValidationError as error:
        raise _wrong(
            "new_password", "", " ".join(error.messages), "choose a longer, less common one"
        ) from error
    user.set_password(new)
    user.must_change_password = False
    user.save(update_fields=["password", "must_change_password"])
    note(actor, "change_password", "person", user.pk, f"{user.full_name} changed their password")
    return user


@transaction.atomic
def add_certificate(*, actor: Actor, new: NewCertificate) -> Certificate:
    """Enter somebody's licence. Refuses a number known at that authority and an end before its beginning."""
    require(actor, Verb.GRANT_AUTHORISATION)
    person = person_for(actor, new.person_id)
    for name in ("kind", "number", "authority"):
        if not getattr(new, name).strip():
            raise _wrong(name, "", "is missing", "copy it from the licence")
    if new.expires_on is not None and new.expires_on < new.issued_on:
        raise _wrong(
            "expires_on", new.expires_on.isoformat(), "lies before it was issued", "check both dates"
        )
    if Certificate.objects.filter(authority=new.authority.strip(), number=new.number.strip()).exists():
        reason = Reason("is known already", "number", new.number, "check whose it is")
        raise Conflict("certificate_known", "This certificate number is entered already.", reason)
    certificate = Certificate.objects.create(
        user=person,
        kind=new.kind.strip(),
        number=new.number.strip(),
        authority=new.authority.strip(),
        issued_on=new.issued_on,
        expires_on=new.expires_on,
    )
    note(actor, "add_certificate", "person", person.pk, f"{person.full_name}: {certificate}")
    return certificate


@transaction.atomic
def grant_authorisation(*, actor: Actor, new: NewAuthorisation) -> Authorisation:
    """Let somebody perform, inspect or release within a scope. Nobody authorises themselves."""
    require(actor, Verb.GRANT_AUTHORISATION)
    person = person_for(actor, new.person_id)
    if person.pk == actor.user_id:
        raise NotAllowed("own_authorisation", "Nobody authorises themselves: ask another director.")
    if new.act not in Authorisation.Act.values:
        raise _wrong("act", new.act, "is no act", f"use one of: {', '.join(Authorisation.Act.values)}")
    if new.valid_to < new.valid_from:
        raise _wrong("valid_to", new.valid_to.isoformat(), "lies before it begins", "check both dates")
    if not new.reference.strip():
        raise _wrong("reference", "", "is missing", "enter the number of the authorisation")
    chapters = [_chapter(chapter) for chapter in new.ata_chapters]
    row = Authorisation.objects.create(
        user=person,
        operator_id=actor.operator_id,
        act=new.act,
        ata_chapters=chapters,
        aircraft_type_id=new.aircraft_type_id,
        reference=new.reference.strip(),
        valid_from=new.valid_from,
        valid_to=new.valid_to,
        granted_by_id=actor.user_id or 0,
    )
    note(
        actor,
        "grant_authorisation",
        "person",
        person.pk,
        f"{person.full_name}: {row} to {day_words(row.valid_to)}",
    )
    return row


def _chapter(written: str) -> str:
    chapter = written.strip()
    if len(chapter) != 2 or not chapter.isdigit():
        raise _wrong("ata_chapters", written, "is no chapter of two digits", "write 05, 30 …")
    return chapter


@transaction.atomic
def revoke_authorisation(*, actor: Actor, authorisation_id: int) -> Authorisation:
    """End an authorisation from today; past signatures stay valid."""
    require(actor, Verb.GRANT_AUTHORISATION)
    row = Authorisation.objects.filter(pk=authorisation_id, operator_id=actor.operator_id).first()
    if row is None:
        raise NotFound("authorisation_not_found", "There is no such authorisation here.")
    if row.revoked_on is None:
        row.revoked_on = now().date()
        row.save(update_fields=["revoked_on"])
        note(actor, "revoke_authorisation", "person", row.user_id, f"{row.user.full_name}: {row} revoked")
    return row


@transaction.atomic
def create_token(*, actor: Actor, label: str, expires_at: datetime | None = None) -> tuple[ApiToken, str]:
    """A key for a program that acts as oneself; the key is returned once and never stored."""
    if actor.user_id is None:
        raise NotAllowed("person_needed", "Only a person has keys.")
    if not label.strip():
        raise _wrong("label", "", "is missing", "say what the key is for")
    if expires_at is not None and expires_at <= now():
        raise _wrong("expires_at", expires_at.isoformat(), "lies in the past", "choose a later day")
    key = new_key()
    token = ApiToken.objects.create(
        user_id=actor.user_id,
        operator_id=actor.operator_id,
        label=label.strip()[:80],
        digest=digest_of(key),
        created_at=now(),
        expires_at=expires_at,
    )
    note(actor, "create_token", "token", token.pk, f"Key “{token.label}” made")
    return token, key


def touch_token(*, token: ApiToken) -> None:
    """Remember that a key was used, at most once an hour: reading must not cost a write each time."""
    moment = now()
    rested = Q(last_used_at=None) | Q(last_used_at__lt=moment - timedelta(hours=1))
    ApiToken.objects.filter(rested, pk=token.pk).update(last_used_at=moment)


@transaction.atomic
def revoke_token(*, actor: Actor, token_id: int) -> ApiToken:
    """End a key of one's own (an administrator: anybody's here)."""
    rows = ApiToken.objects.filter(operator_id=actor.operator_id)
    if not actor.may(Verb.EDIT_PEOPLE):
        rows = rows.filter(user_id=actor.user_id or 0)
    token = rows.filter(pk=token_id).first()
    if token is None:
        raise NotFound("token_not_found", "There is no such key here.")
    if token.revoked_at is None:
        token.revoked_at = now()
        token.save(update_fields=["revoked_at"])
        note(actor, "revoke_token", "token", token.pk, f"Key “{token.label}” revoked")
    return token
