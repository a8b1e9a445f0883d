"""The API's published schema, and whether an answer is what it says."""

from __future__ import annotations

from functools import cache
from typing import Any

import schemathesis
from drf_spectacular.generators import SchemaGenerator
from requests import Request

from tests.doors.doors import Door


@cache
def schema() -> dict[str, Any]:
    """As `/api/v1/schema/` gives it."""
    return dict(SchemaGenerator().get_schema(request=None, public=True))


@cache
def _operations() -> Any:
    return schemathesis.openapi.from_dict(schema())


def must_be_as_published(answer: Any, door: Door) -> None:
    """Status, media type and shape of an answer that was read, as the schema says for its door."""
    method = door.method.upper()
    operation = _operations()[f"/api/v1/{door.path}"][method]
    assert str(answer.status_code) in operation.definition.raw["responses"], (door, answer.status_code)
    asked = Request(method, "http://testserver").prepare()
    headers = {name.lower(): [value] for name, value in answer.items()}
    content = answer.read_text.encode()
    told = schemathesis.Response(answer.status_code, headers, content, asked, 0.0, verify=False)
    operation.validate_response(told)
