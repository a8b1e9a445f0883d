"""Receipts: the same command with the same key gets the same answer, and is carried out once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.db import IntegrityError, transaction

from fleet.common.actor import Actor
from fleet.common.clock import now
from fleet.common.errors import Invalid, Reason
from fleet.models import Receipt

Answer = tuple[int, Any, Mapping[str, str]]


def once(*, actor: Actor, key: str, request_digest: str, act: Callable[[], Answer]) -> tuple[Answer, bool]:
    """Carry `act` out under the key, or return what it answered before; the flag says it was a repeat.

    Command and receipt commit together. The same key with another request is refused (`key_reused`).
    """
    try:
        with transaction.atomic():
            known = _known(actor, key)
            if known is not None:
                return _again(known, request_digest), True
            answer = act()
            _keep(actor, key, request_digest, answer)
    except IntegrityError:
        # The same command came twice at the same moment: the other one is carried out, this one answers like it.
        known = _known(actor, key)
        if known is None:
            raise
        return _again(known, request_digest), True
    return answer, False


def _person(actor: Actor) -> int:
    if actor.user_id is None:
        raise Invalid("no_person", "Only people send commands with a key.")
    return actor.user_id


def _known(actor: Actor, key: str) -> Receipt | None:
    return Receipt.objects.filter(operator_id=actor.operator_id, user_id=_person(actor), key=key).first()


def _keep(actor: Actor, key: str, request_digest: str, answer: Answer) -> None:
    status, body, headers = answer
    Receipt.objects.create(
        operator_id=actor.operator_id,
        user_id=_person(actor),
        key=key,
        request_digest=request_digest,
        status=status,
        body=body,
        headers=dict(headers),
        at=now(),
    )


def _again(known: Receipt, request_digest: str) -> Answer:
    _check_same(known, request_digest)
    return known.status, known.body, known.headers


def _check_same(known: Receipt, request_digest: str) -> None:
    if known.request_digest != request_digest:
        raise Invalid(
            "key_reused",
            "This Idempotency-Key was already used for another request.",
            Reason("already used", field="Idempotency-Key", value=known.key, remedy="send a fresh key"),
        )
