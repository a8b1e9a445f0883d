"""Secret keys for programs and calendar links: shown once, stored only as SHA-256. Pure."""

from __future__ import annotations

import hashlib
import secrets


def new_key(prefix: str = "vg") -> str:
    """A fresh random key of 256 bits: `new_key()` begins with `vg_`."""
    return f"{prefix}_{secrets.token_urlsafe(32)}"


def digest_of(key: str) -> str:
    """The stored form of a key: SHA-256 in hexadecimal."""
    return hashlib.sha256(key.encode()).hexdigest()
