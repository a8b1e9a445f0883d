"""What people read, with its no-break spaces as plain ones, so that tests can quote it."""

from __future__ import annotations

from collections.abc import Iterable


def plain(text: str) -> str:
    """One text: `plain("2\\u00a0400\\u00a0landings")` is "2 400 landings"."""
    return text.replace("\u00a0", " ")


def plain_lines(lines: Iterable[str]) -> tuple[str, ...]:
    """Several texts, in order."""
    return tuple(map(plain, lines))
