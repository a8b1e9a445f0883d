"""The seal: SHA-256 (FIPS 180-4) over the canonical bytes of a record that names the record before it. Pure.

The digest needs no product to be checked: it is the SHA-256 of the canonical text as a file.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass

from records.seal.canonical import NotSealable, exact_form

PREVIOUS = "previous"
FIRST_PREVIOUS = "0" * 64
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Sealed:
    """The exact bytes of a record, which include `previous`, and their digest as 64 hexadecimal digits."""

    canonical: bytes
    digest: str


def digest_of(canonical: bytes) -> str:
    """SHA-256 in lower-case hexadecimal: `digest_of(b"abc")` starts with `ba7816bf`."""
    return hashlib.sha256(canonical).hexdigest()


def is_digest(text: str) -> bool:
    """Whether the text is 64 lower-case hexadecimal digits: `is_digest("0" * 64)` is true."""
    return _DIGEST.fullmatch(text) is not None


def seal(payload: Mapping[str, object], previous: str | None) -> Sealed:
    """Bind a record to the one before it: `seal({"number": "QX-SKA-000001"}, None)` begins a chain.

    `previous` is the digest of the record before, None for the first record of an aircraft (sixty-four zeros
    are written). The payload may not hold the name `previous` itself. Raises NotSealable.
    """
    before = FIRST_PREVIOUS if previous is None else previous
    if not is_digest(before):
        raise NotSealable(f"$.{PREVIOUS}", repr(before)[:80], "is not a digest", "give 64 hexadecimal digits")
    if PREVIOUS in payload:
        raise NotSealable(
            f"$.{PREVIOUS}", repr(payload[PREVIOUS])[:80], "is written by the seal", "leave the name out"
        )
    canonical = exact_form({**payload, PREVIOUS: before})
    return Sealed(canonical=canonical, digest=digest_of(canonical))
