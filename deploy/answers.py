"""Answers that belong to no app: is the service well, and what stands where nothing is or something broke."""

from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.template.loader import render_to_string
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.common.http import PROBLEM_TYPE, problem

CODES = {400: "unreadable", 403: "not_allowed", 404: "not_found", 500: "broken"}
SENTENCES = {
    400: "The request could not be read.",
    403: "You may not do this.",
    404: "There is nothing at this address, or nothing you may see.",
    500: "The fault is ours and has been written to the log. Nothing was saved.",
}


@never_cache
@require_safe
def health(_request: HttpRequest) -> HttpResponse:
    """200 while the database answers; a broken database is an error like any other."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"status": "well"})


def answer(request: HttpRequest, status: int) -> HttpResponse:
    """Problem details (RFC 9457) under /api/, a page elsewhere."""
    if request.path.startswith("/api/"):
        body = problem(status, CODES[status], SENTENCES[status])
        return JsonResponse(body, status=status, content_type=PROBLEM_TYPE)
    if status == 500:
        # Without the request: whatever broke may break the frame's own questions too.
        return HttpResponse(render_to_string("500.html", {"status_code": status}), status=status)
    return render(request, f"{status}.html", {"status_code": status}, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    return answer(request, 400)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    return answer(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    return answer(request, 404)


def broke(request: HttpRequest) -> HttpResponse:
    return answer(request, 500)


def address_behind_proxy(request: HttpRequest) -> str:
    """The client's address for the lock-out: the proxy overwrites this header, so its one entry is true.

    >>> request = HttpRequest()
    >>> request.META["HTTP_X_FORWARDED_FOR"] = "192.0.2.7"
    >>> address_behind_proxy(request)
    '192.0.2.7'
    """
    return str(request.META.get("HTTP_X_FORWARDED_FOR") or request.META["REMOTE_ADDR"]).split(",")[-1].strip()
