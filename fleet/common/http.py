"""Refusals as HTTP: problem details (RFC 9457) for the API, entity tags (RFC 9110) for what can be edited."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import Http404
from rest_framework import exceptions as drf
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import exception_handler as drf_exception_handler
from rest_framework.views import set_rollback

from fleet.common.errors import PreconditionMissing, Reason, Refusal, Stale

PROBLEM_TYPE = "application/problem+json"
TITLES = {
    400: "The request cannot be read",
    401: "Sign in first",
    403: "Not allowed",
    404: "Not found",
    405: "Not possible here",
    406: "Not available in this form",
    409: "The state of things forbids this",
    412: "Changed by somebody else meanwhile",
    413: "Too large",
    415: "Not understood in this form",
    422: "What was sent makes no sense",
    428: "Say which version you are changing",
    429: "Too many requests",
}
FAULTS = {
    "required": ("is missing", "send it"),
    "null": ("is null", "send a value"),
    "blank": ("is empty", "write something"),
    "invalid_choice": ("is not known here", "send one of the values that the description of the API lists"),
}
LONGEST_VALUE = 80


def _pointer(field: str) -> str:
    """A JSON Pointer into the request: `measurements.0.value` becomes `#/measurements/0/value`."""
    return "#/" + field.replace("~", "~0").replace(".", "/") if field else "#"


def problem(
    status: int, code: str, detail: str, errors: list[dict[str, str]] | None = None
) -> dict[str, Any]:
    """The members of a problem document; `code` is the stable word for programs."""
    body: dict[str, Any] = {
        "type": f"urn:verglas:problem:{code}",
        "title": TITLES.get(status, "Refused"),
        "status": status,
        "detail": detail,
        "code": code,
    }
    if errors:
        body["errors"] = errors
    return body


def _reason(reason: Reason) -> dict[str, str]:
    parts = {"detail": reason.detail, "pointer": _pointer(reason.field)}
    if reason.value:
        parts["value"] = reason.value
    if reason.remedy:
        parts["remedy"] = reason.remedy
    return parts


def _flatten(detail: object, path: str = "") -> Iterator[tuple[str, object]]:
    """Every message of a serializer's error tree with its path."""
    if isinstance(detail, Mapping):
        for key, value in detail.items():
            inner = path if key == "non_field_errors" else f"{path}.{key}" if path else str(key)
            yield from _flatten(value, inner)
    elif isinstance(detail, list):
        for index, value in enumerate(detail):
            nested = isinstance(value, Mapping | list)
            yield from _flatten(
                value, f"{path}.{index}" if nested and path else path or (str(index) if nested else "")
            )
    else:
        yield path, detail


def _fault(path: str, message: object, request: Request) -> Reason:
    """A message of a serializer as a reason: what was sent stands beside it, and what to do."""
    detail, remedy = FAULTS.get(getattr(message, "code", ""), (str(message), ""))
    return Reason(detail, path, _sent(path, request), remedy)


def _sent(path: str, request: Request) -> str:
    """What the request holds at a path, as far as it is one short value that may be repeated."""
    found: object = request.data
    for part in path.split("."):
        if isinstance(found, list) and part.isdigit() and int(part) < len(found):
            found = found[int(part)]
        else:
            found = found.get(part) if isinstance(found, Mapping) else None
    found = request.query_params.get(path) if found is None else found
    may_repeat = isinstance(found, str | int | float) and "password" not in path
    return str(found)[:LONGEST_VALUE] if may_repeat else ""


def refusal_body(refusal: Refusal) -> dict[str, Any]:
    """A refusal as a problem document."""
    return problem(refusal.status, refusal.code, refusal.sentence, [_reason(r) for r in refusal.reasons])


def _answer(status: int, body: dict[str, Any]) -> Response:
    set_rollback()
    return Response(body, status=status, content_type=PROBLEM_TYPE)


def problem_response(exception: Exception, context: dict[str, Any]) -> Response | None:
    """The one handler of the API: refusals, framework refusals, and nothing else (a bug stays a bug)."""
    if isinstance(exception, Refusal):
        return _answer(exception.status, refusal_body(exception))
    if isinstance(exception, drf.ValidationError):
        faults = [_fault(*one, context["request"]) for one in _flatten(exception.detail)]
        sentence = "; ".join(f"{one.field or 'request'}: {one.detail}" for one in faults[:3])
        errors = [_reason(one) for one in faults]
        return _answer(422, problem(422, "invalid", f"Some fields need another look: {sentence}", errors))
    if isinstance(exception, Http404):
        return _answer(404, problem(404, "not_found", "There is nothing here for you."))
    if isinstance(exception, PermissionDenied):
        return _answer(403, problem(403, "not_allowed", "You may not do this."))
    response = drf_exception_handler(exception, context)
    if response is None or not isinstance(exception, drf.APIException):
        return response
    codes = exception.get_codes()
    code = codes if isinstance(codes, str) else "refused"
    response.data = problem(response.status_code, code, str(exception.detail))
    response.content_type = PROBLEM_TYPE
    return response


def entity_tag(kind: str, identity: int | str, version: int | str) -> str:
    """A strong entity tag: `entity_tag("aircraft", 7, 3)` is `"aircraft-7-3"` in double quotes."""
    return f'"{kind}-{identity}-{version}"'


def _tags(header: str) -> list[str]:
    return [part.strip() for part in header.split(",") if part.strip()]


def if_match(header: str | None, current: str) -> None:
    """Refuse an edit whose If-Match is missing (428) or does not name the current tag (412).

    Strong comparison (RFC 9110 8.8.3.2): a weak tag never matches.
    """
    if not header:
        raise PreconditionMissing(
            "version_missing", "Send If-Match with the entity tag you read, so that nobody's change is lost."
        )
    if header.strip() != "*" and current not in _tags(header):
        raise Stale(
            "changed_meanwhile", f"This was changed after you read it; it is now {current}. Read it again."
        )


def none_match(header: str | None, current: str) -> bool:
    """Whether If-None-Match names the current tag (weak comparison): then a GET answers 304."""
    if not header:
        return False
    if header.strip() == "*":
        return True
    return current.removeprefix("W/") in [tag.removeprefix("W/") for tag in _tags(header)]
