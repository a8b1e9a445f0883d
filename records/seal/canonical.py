"""One exact byte form of a record: RFC 8785 (JSON Canonicalization Scheme), with exact values only. Pure."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

import rfc8785

LARGEST_INTEGER = 2**53 - 1
DEEPEST = 64
# Of exact values the standard library writes what RFC 8785 asks for, ten times as fast: text, whole numbers, literals.
_WRITER = json.JSONEncoder(ensure_ascii=False, check_circular=False, separators=(",", ":"))


class NotSealable(ValueError):
    """A value without an exact canonical form: `path` says where it stands, `remedy` what to write."""

    def __init__(self, path: str, value: str, detail: str, remedy: str) -> None:
        super().__init__(f"{path}: {detail} ({value}); {remedy}")
        self.path = path
        self.value = value
        self.detail = detail
        self.remedy = remedy


def canonical_json(value: object) -> bytes:
    """Any JSON value in RFC 8785 form: `canonical_json({"b": 2, "a": 1})` is `b'{"a":1,"b":2}'`.

    Floats are written as ECMAScript writes them; records hold none (see `exact_form`). Raises NotSealable.
    """
    try:
        return rfc8785.dumps(_plain(value))
    except (rfc8785.CanonicalizationError, RecursionError) as refusal:
        raise NotSealable("$", type(value).__name__, str(refusal), "write plain JSON values") from refusal


def exact_form(payload: Mapping[str, object]) -> bytes:
    """The canonical bytes of a payload without inexact values: `exact_form({"hours": "1304.5"})`.

    Keys are text; values are text, whole numbers within ±(2^53 − 1), true, false, null, lists and mappings.
    Floats and decimals are refused: a decimal is written as text, so that 1304.50 stays 1304.50.
    Raises NotSealable with the path, e.g. `$.measurements[0].value`.
    """
    try:
        return _WRITER.encode(_ordered(payload, 0)).encode()
    except ValueError:
        for path, value, depth in _walk("$", payload, 0):
            _require_exact(path, value, depth)
        raise


def read_form(canonical: bytes) -> dict[str, Any]:
    """The payload of canonical bytes, back again: `read_form(b'{"a":1}')` is `{"a": 1}`.

    Refuses duplicate keys, NaN, infinities, floats, anything but an object, and bytes not in canonical form.
    """
    try:
        payload = json.loads(canonical, object_pairs_hook=_pairs, parse_constant=_constant)
    except (ValueError, RecursionError) as trouble:
        if isinstance(trouble, NotSealable):
            raise
        raise NotSealable(
            "$", _shown(canonical), "is not JSON in UTF-8", "restore the stored text"
        ) from trouble
    if not isinstance(payload, dict):
        raise NotSealable("$", _shown(payload), "is not an object", "seal a mapping of names to values")
    if exact_form(payload) != canonical:
        raise NotSealable("$", _shown(canonical), "is not in canonical form", "restore the stored text")
    return payload


def _ordered(value: object, depth: int) -> Any:
    """The same value in plain containers, names in the order of their UTF-16 code units.

    Raises ValueError where it is not exact; `_walk` then finds out where.
    """
    if depth > DEEPEST:
        raise ValueError("nested too deep")
    if isinstance(value, str) or value is None:
        return value
    if isinstance(value, Mapping):
        names = sorted(value) if all(map(_is_ascii, value)) else sorted(value, key=_code_units)
        return {name: _ordered(value[name], depth + 1) for name in names}
    if isinstance(value, list | tuple):
        return [_ordered(inner, depth + 1) for inner in value]
    if isinstance(value, int) and abs(value) <= LARGEST_INTEGER:
        return value
    raise ValueError("not exact")


def _is_ascii(name: object) -> bool:
    return isinstance(name, str) and name.isascii()


def _code_units(name: object) -> bytes:
    if not isinstance(name, str):
        raise ValueError("a name is not text")
    return name.encode("utf-16-be")


def _walk(path: str, value: object, depth: int) -> Iterator[tuple[str, object, int]]:
    """Every value with its path, outermost first; stops descending below the deepest level allowed."""
    yield path, value, depth
    if depth > DEEPEST:
        return
    if isinstance(value, Mapping):
        for key, inner in value.items():
            if not isinstance(key, str):
                raise NotSealable(f"{path}.{key!r}", _shown(key), "a name is not text", "use text as names")
            _require_text(f"{path}.{key}", key)
            yield from _walk(f"{path}.{key}", inner, depth + 1)
    elif isinstance(value, list | tuple):
        for index, inner in enumerate(value):
            yield from _walk(f"{path}[{index}]", inner, depth + 1)


def _require_exact(path: str, value: object, depth: int) -> None:
    """Refuse what would lose something on its way into JSON."""
    if depth > DEEPEST:
        raise NotSealable(path, "…", f"is nested deeper than {DEEPEST} levels", "flatten the record")
    if isinstance(value, str):
        _require_text(path, value)
    elif isinstance(value, int):
        if abs(value) > LARGEST_INTEGER:
            raise NotSealable(path, str(value), "is a whole number beyond 2^53 − 1", "write it as text")
    elif value is not None and not isinstance(value, Mapping | list | tuple):
        kind = type(value).__name__
        remedy = (
            "write the number as text" if kind in {"float", "Decimal", "Fraction"} else "write it as text"
        )
        raise NotSealable(path, _shown(value), f"{kind} has no exact canonical form", remedy)


def _require_text(path: str, text: str) -> None:
    """Refuse text that UTF-8 cannot carry."""
    try:
        text.encode()
    except UnicodeEncodeError as trouble:
        raise NotSealable(
            ascii(path)[1:-1], ascii(text), "holds half a surrogate pair", "write whole characters"
        ) from trouble


def _plain(value: object) -> Any:
    """The same value in the containers the canonical writer knows."""
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    return value


def _pairs(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object whose names are all different."""
    read: dict[str, Any] = {}
    for key, value in pairs:
        if key in read:
            raise NotSealable(f"$.{key}", _shown(value), "stands twice", "name every value once")
        read[key] = value
    return read


def _constant(name: str) -> None:
    """NaN and the infinities are no JSON."""
    raise NotSealable("$", name, "is not a JSON number", "write the number as text")


def _shown(value: object) -> str:
    """A short, printable form for a message."""
    text = ascii(value) if isinstance(value, bytes) else repr(value)
    return text if len(text) <= 60 else text[:57] + "…"
