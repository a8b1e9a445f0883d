"""Signatures of the open Standard Webhooks specification: HMAC-SHA256 over id, timestamp and body."""

from __future__ import annotations

import base64
import binascii
import hashlib
import hmac
import secrets

PREFIX = "whsec_"
SECRET_BYTES = 32


def new_secret() -> str:
    """A fresh secret of 256 bits: `whsec_` and its base64."""
    return PREFIX + base64.b64encode(secrets.token_bytes(SECRET_BYTES)).decode()


def key_of(secret: str) -> bytes:
    """The bytes of a secret. Raises ValueError where it is not `whsec_` and base64."""
    if not secret.startswith(PREFIX):
        raise ValueError("a secret begins with whsec_")
    try:
        return base64.b64decode(secret.removeprefix(PREFIX), validate=True)
    except binascii.Error as error:
        raise ValueError("a secret is base64 after whsec_") from error


def signature(secret: str, message_id: str, timestamp: int, body: bytes) -> str:
    """What goes into `webhook-signature`: "v1," and the base64 HMAC of "id.timestamp.body"."""
    signed = f"{message_id}.{timestamp}.".encode() + body
    return "v1," + base64.b64encode(hmac.new(key_of(secret), signed, hashlib.sha256).digest()).decode()


def headers(secret: str, message_id: str, timestamp: int, body: bytes) -> dict[str, str]:
    """The three headers of the specification. `message_id` stays the same however often a message is repeated."""
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(timestamp),
        "webhook-signature": signature(secret, message_id, timestamp, body),
    }
