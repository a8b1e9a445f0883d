"""What no door should take: bodies that cannot be read, values of the wrong kind, names of nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tests.doors.doors import Door
from tests.doors.published import schema

UNREADABLE = {
    "half a body": b'{"a": ',
    "no text": b"\xff\xfe\x00",
    "no JSON": b"a=1&b=2",
    "no number": b'{"a": NaN}',
    "endless": b'{"a": 1e999}',
    "too many digits": b'{"a": 1000000000000000000000000000000}',
    "much too deep": b"[" * 100_000,
    "too deep": b'{"a":' * 50 + b"1" + b"}" * 50,
    "a NUL": b'{"a": "\\u0000"}',
    "half a character": b'{"a": "\\ud800"}',
}
NO_BODIES: tuple[Any, ...] = ([], 3, "words", None, [{}])
VALUES: tuple[Any, ...] = (None, -1, 1.5, 10**17, "", "x" * 5_000, [[]], {"a": None})
# In a form everything is text: one that looks like a digit, one that no table holds, one too long, one too small.
TEXTS = ("²", "9" * 20, "x" * 5_000, "-1")
NO_NUMBERS = (0, 999_999_999, 2**63, 10**30)
NO_WORDS = ("nothing-here", "%00", "²", "x" * 3_000)


def _resolved(shape: Mapping[str, Any]) -> Mapping[str, Any]:
    """A shape of the schema itself, where it only refers to one."""
    for reference in (shape, *shape.get("allOf", ())):
        if "$ref" in reference:
            return dict(schema()["components"]["schemas"][reference["$ref"].rsplit("/", 1)[1]])
    return shape


def shape_of(door: Door) -> Mapping[str, Any]:
    """What the published schema says a door's body looks like; empty where it takes none."""
    operation = schema()["paths"][f"/api/v1/{door.path}"][door.method]
    content = operation.get("requestBody", {}).get("content", {})
    return _resolved(content.get("application/json", {}).get("schema", {}))


def spoiled(body: Mapping[str, Any], shape: Mapping[str, Any]) -> Iterator[tuple[str, Any, dict[str, Any]]]:
    """The body with one field after the other, those of the schema and those inside fields too, made nonsense."""
    known = shape.get("properties", {})
    for name in {**body, **known}:
        for value in VALUES:
            yield name, value, {**body, name: value}
        inner, inside = body.get(name), _resolved(known.get(name, {}))
        if isinstance(inner, dict):
            for place, value, spoilt in spoiled(inner, inside):
                yield f"{name}.{place}", value, {**body, name: spoilt}
        elif isinstance(inner, list) and inner and isinstance(inner[0], dict):
            for place, value, spoilt in spoiled(inner[0], _resolved(inside.get("items", {}))):
                yield f"{name}.0.{place}", value, {**body, name: [spoilt, *inner[1:]]}
