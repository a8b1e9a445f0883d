"""Receipts: the same command with the same key gets the same answer, and is carried out once."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from django.db import transaction

from fleet.common.actor import Actor
from fleet.common.clock import now
from fleet.common.errors import Invalid, Reason
from fleet.models import Receipt

Answer = tuple[int, Any, Mapping[str, str]]


def once(*, actor: Actor, key: str, request_digest: str, act: Callable[[], Answer]) -> tuple[Answer, bool]:
    """Carry `act` out under the key, or return what it answered before; the flag says it was a repeat.

    Command and receipt commit together. The same key with another request is refused (`key_reused`).
    """
    with transaction.atomic():
        known = Receipt.objects.filter(operator_id=actor.operator_id, user_id=actor.user_id, key=key).first()
        if known is not None:
            _check_same(known, request_digest)
            return (known.status, known.body, known.headers), True
        status, body, headers = act()
        Receipt.objects.create(
            operator_id=actor.operator_id,
            user_id=actor.user_id,
            key=key,
            request_digest=request_digest,
            status=status,
            body=body,
            headers=dict(headers),
            at=now(),
        )
    return (status, body, headers), False


def _check_same(known: Receipt, request_digest: str) -> None:
    if known.request_digest != request_digest:
        raise Invalid(
            "key_reused",
            "This Idempotency-Key was already used for another request.",
            Reason("already used", field="Idempotency-Key", value=known.key, remedy="send a fresh key"),
        )
