"""Passkeys: registering one, and proving by one afresh who somebody is at the moment they sign (W3C WebAuthn).

A challenge is kept in the session, holds for two minutes and is good for one attempt. The device itself must have
verified its owner (by finger, face or code): without that a passkey proves only that the phone was there.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.http import HttpRequest
from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

from fleet.common.actor import Actor
from fleet.common.clock import now
from fleet.common.errors import Conflict, Invalid, NotAllowed, NotFound, Reason
from fleet.models import Passkey, User
from fleet.selectors.passkeys import passkeys_of, passkeys_of_operator
from fleet.selectors.people import actor_for
from fleet.services.trail import note

NAME = "Verglas"
KEPT = "passkey_challenge"
HOLDS = timedelta(minutes=2)
REGISTER, PROVE = "register", "prove"
MOST_PASSKEYS = 10


def registration_options(*, actor: Actor, request: HttpRequest) -> dict[str, Any]:
    """What the browser needs to make a passkey. The door proves the password first: a passkey is as good as one."""
    user = _person(actor)
    known = passkeys_of(actor)
    if known.count() >= MOST_PASSKEYS:
        raise Conflict(
            "too_many_passkeys", f"You have {MOST_PASSKEYS} passkeys. Remove one you no longer use."
        )
    options = generate_registration_options(
        rp_id=_host(request),
        rp_name=NAME,
        user_id=str(user.pk).encode(),
        user_name=user.get_username(),
        user_display_name=user.full_name,
        exclude_credentials=_described(known),
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.PREFERRED,
            user_verification=UserVerificationRequirement.REQUIRED,
        ),
    )
    _keep(request, REGISTER, options.challenge)
    answer: dict[str, Any] = json.loads(options_to_json(options))
    return answer


@transaction.atomic
def add_passkey(*, actor: Actor, label: str, credential: Mapping[str, Any], request: HttpRequest) -> Passkey:
    """Keep a passkey just made. Refuses one made for another challenge or place, and one known already."""
    user = _person(actor)
    if not label.strip():
        raise _wrong("label", "is missing", "name the device, such as “my phone”")
    challenge = _take(request, REGISTER)
    try:
        made = verify_registration_response(
            credential=dict(credential),
            expected_challenge=challenge,
            expected_rp_id=_host(request),
            expected_origin=_origin(request),
            require_user_verification=True,
        )
    except WebAuthnException as fault:
        raise _wrong("credential", "does not fit what was asked for", "make the passkey again") from fault
    identity = bytes_to_base64url(made.credential_id)
    if Passkey.objects.filter(credential_id=identity).exists():
        raise Conflict("passkey_known", "This passkey is registered already.")
    kept = Passkey.objects.create(
        user=user,
        label=label.strip()[:80],
        credential_id=identity,
        public_key=bytes_to_base64url(made.credential_public_key),
        sign_count=made.sign_count,
        created_at=now(),
    )
    note(actor, "add_passkey", "person", user.pk, f"Passkey “{kept.label}” added by {user.full_name}")
    return kept


@transaction.atomic
def remove_passkey(*, actor: Actor, passkey_id: int) -> None:
    """Take one's own passkey away; somebody else's is not found."""
    found = passkeys_of(actor).select_for_update(of=("self",)).filter(pk=passkey_id).first()
    if found is None:
        raise NotFound("passkey_not_found", "There is no such passkey of yours.")
    found.delete()
    note(actor, "remove_passkey", "person", actor.user_id or 0, f"Passkey “{found.label}” removed")


def proof_options(*, actor: Actor, username: str, request: HttpRequest) -> dict[str, Any]:
    """What the browser needs to prove somebody by passkey: the actor, or the colleague named.

    A stranger's name is answered like that of a colleague without a passkey.
    """
    mine = passkeys_of(actor)
    known = passkeys_of_operator(actor).filter(user__username=username) if username else mine
    options = generate_authentication_options(
        rp_id=_host(request),
        allow_credentials=_described(known),
        user_verification=UserVerificationRequirement.REQUIRED,
    )
    _keep(request, PROVE, options.challenge)
    answer: dict[str, Any] = json.loads(options_to_json(options))
    return answer


def prove_passkey(
    *, actor: Actor, username: str, credential: Mapping[str, Any], request: HttpRequest
) -> Actor:
    """The person proven: the actor, or the colleague named. Refuses (`passkey_refused`) everything else.

    Call it outside a transaction that may be rolled back: a used challenge stays used.
    """
    challenge = _take(request, PROVE)
    wanted = passkeys_of_operator(actor).filter(credential_id=str(credential.get("id", "")))
    wanted = wanted.filter(user__username=username) if username else wanted.filter(user_id=actor.user_id or 0)
    passkey = wanted.select_related("user").first()
    if passkey is None:
        raise _refused("This passkey belongs to nobody who may sign here.")
    try:
        proven = verify_authentication_response(
            credential=dict(credential),
            expected_challenge=challenge,
            expected_rp_id=_host(request),
            expected_origin=_origin(request),
            credential_public_key=base64url_to_bytes(passkey.public_key),
            credential_current_sign_count=passkey.sign_count,
            require_user_verification=True,
        )
    except WebAuthnException as fault:
        raise _refused("The passkey does not fit. Nothing was signed.") from fault
    passkey.sign_count = proven.new_sign_count
    passkey.last_used_at = now()
    passkey.save(update_fields=["sign_count", "last_used_at"])
    return actor_for(passkey.user, actor.operator_id)


def _person(actor: Actor) -> User:
    user = User.objects.filter(pk=actor.user_id or 0, is_active=True).first()
    if user is None:
        raise NotAllowed("person_needed", "Only a person has passkeys.")
    return user


def _described(rows: Any) -> list[PublicKeyCredentialDescriptor]:
    return [PublicKeyCredentialDescriptor(id=base64url_to_bytes(row.credential_id)) for row in rows]


def _host(request: HttpRequest) -> str:
    return request.get_host().partition(":")[0]


def _origin(request: HttpRequest) -> str:
    return f"{request.scheme}://{request.get_host()}"


def _keep(request: HttpRequest, purpose: str, challenge: bytes) -> None:
    until = (now() + HOLDS).isoformat()
    request.session[KEPT] = {"purpose": purpose, "challenge": bytes_to_base64url(challenge), "until": until}


def _take(request: HttpRequest, purpose: str) -> bytes:
    """The challenge kept for this purpose, once."""
    kept = request.session.pop(KEPT, None)
    if not kept or kept["purpose"] != purpose or datetime.fromisoformat(kept["until"]) < now():
        raise _refused("The time for the passkey is over. Ask for it again.")
    return base64url_to_bytes(kept["challenge"])


def _refused(sentence: str) -> NotAllowed:
    return NotAllowed("passkey_refused", sentence, Reason("is not right", "passkey", remedy="try it again"))


def _wrong(field: str, detail: str, remedy: str) -> Invalid:
    reason = Reason(detail, field, "", remedy)
    return Invalid("bad_passkey", reason.sentence(), reason)
