"""Signed webhooks as the open Standard Webhooks specification says: id, timestamp and body, HMAC-SHA256.

The vector is the one that the specification's public reference libraries test with; it is quoted from memory and
was computed again by hand of the standard library.
"""

from __future__ import annotations

import base64
import hashlib
import hmac

import pytest

from scheduling.services.webhook_signature import headers, key_of, new_secret, signature

pytestmark = pytest.mark.published

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"
MESSAGE = "msg_p5jXN8AQM9LWM0D4loKWxJek"
TIMESTAMP = 1614265330
BODY = b'{"test": 2432232314}'
EXPECTED = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE="


def test_the_public_vector_is_reproduced() -> None:
    assert signature(SECRET, MESSAGE, TIMESTAMP, BODY) == EXPECTED


def test_the_three_headers_carry_id_timestamp_and_signature() -> None:
    assert headers(SECRET, MESSAGE, TIMESTAMP, BODY) == {
        "webhook-id": MESSAGE,
        "webhook-timestamp": "1614265330",
        "webhook-signature": EXPECTED,
    }


def test_what_is_signed_is_id_dot_timestamp_dot_body() -> None:
    digest = hmac.new(base64.b64decode("c2VjcmV0"), b"id.7.body", hashlib.sha256).digest()
    assert signature("whsec_c2VjcmV0", "id", 7, b"body") == "v1," + base64.b64encode(digest).decode()


@pytest.mark.parametrize("secret", ["MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "whsec_???", "whsec_abc"])
def test_a_secret_that_is_no_secret_is_refused(secret: str) -> None:
    with pytest.raises(ValueError, match="whsec_"):
        key_of(secret)


def test_a_fresh_secret_has_256_bits_and_is_never_the_same() -> None:
    first, second = new_secret(), new_secret()
    assert len(key_of(first)) == 32
    assert first != second
