"""Reading JSON bodies: what could not be kept, or written back to whoever asks, is not read in the first place."""

from __future__ import annotations

import json
from collections.abc import Mapping
from math import isfinite
from typing import IO, Any

from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser

MOST_DIGITS = 18
DEEPEST = 32


class JsonBody(JSONParser):
    """JSON as RFC 8259 has it, in UTF-8, with numbers that a table holds and no half characters."""

    def parse(
        self, stream: IO[Any], media_type: str | None = None, parser_context: Mapping[str, Any] | None = None
    ) -> Any:
        """The body as Python values; ParseError with the reason."""
        try:
            text = stream.read().decode()
            body = json.loads(text, parse_int=_whole, parse_float=_decimal, parse_constant=_constant)
        except (ValueError, RecursionError) as error:
            raise ParseError(f"The body is not JSON that can be read: {error}.") from error
        texts, depth = _walked(body)
        if depth > DEEPEST:
            raise ParseError(f"The body is nested deeper than {DEEPEST} levels.")
        if "\\u" in text and not all(map(_is_text, texts)):
            raise ParseError(
                "The body holds what is no text: \\u0000, or one half of a pair of \\ud800 to \\udfff."
            )
        return body


def _whole(digits: str) -> int:
    if len(digits) > MOST_DIGITS:
        raise ValueError(f"{digits[:20]}… has more than {MOST_DIGITS} digits")
    return int(digits)


def _decimal(digits: str) -> float:
    number = float(digits)
    if not isfinite(number):
        raise ValueError(f"{digits[:20]} is too large")
    return number


def _constant(word: str) -> float:
    raise ValueError(f"{word} is no number of JSON")


def _walked(body: Any) -> tuple[list[str], int]:
    """Every text of the body, names included, and how deep it is nested."""
    texts: list[str] = []
    level, depth = [body], 0
    while level:
        texts += [part for part in level if isinstance(part, str)]
        inner = [part for part in level if isinstance(part, dict | list)]
        texts += [name for part in inner if isinstance(part, dict) for name in part]
        level = [value for part in inner for value in (part.values() if isinstance(part, dict) else part)]
        depth += bool(inner)
    return texts, depth


def _is_text(written: str) -> bool:
    """Whether a database and an answer could hold it."""
    try:
        return b"\0" not in written.encode()
    except UnicodeEncodeError:
        return False
