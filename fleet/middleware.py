"""Refusals on screens become pages in words; the API has its own handler."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render

from fleet.common.errors import NotSignedIn, Refusal
from fleet.common.http import PROBLEM_TYPE, problem, refusal_body

# No text of a database may hold it, and nobody types it.
NUL = "\x00"


class RefusalMiddleware:
    """Answer a Refusal that reached the top of a screen with a page of the same status."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if NUL in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            raise BadRequest("An address holds no NUL.")
        response = self.get_response(request)
        is_api = request.path.startswith("/api/")
        if is_api and response.status_code in (404, 405) and "html" in response.get("Content-Type", ""):
            return _problem(response.status_code, "not_found", "There is no such address in this API.")
        return response

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Only refusals; anything else is a bug and stays one."""
        if not isinstance(exception, Refusal):
            return None
        if request.path.startswith("/api/"):
            return JsonResponse(refusal_body(exception), status=exception.status, content_type=PROBLEM_TYPE)
        if isinstance(exception, NotSignedIn):
            return redirect(settings.LOGIN_URL)
        return render(request, "refused.html", {"refusal": exception}, status=exception.status)


def _problem(status: int, code: str, detail: str) -> JsonResponse:
    return JsonResponse(problem(status, code, detail), status=status, content_type=PROBLEM_TYPE)
