"""Answers that belong to no app: is the service well, and pages that do not exist or broke."""

from django.db import connection
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from fleet.common.http import PROBLEM_TYPE, problem

TITLES = {400: "Bad request", 403: "Not allowed", 404: "Not found", 500: "Something broke"}
CODES = {400: "unreadable", 403: "not_allowed", 404: "not_found", 500: "broken"}
SENTENCES = {
    400: "The request could not be read.",
    403: "You may not do this.",
    404: "There is nothing at this address, or nothing you may see.",
    500: "The fault is ours and has been written to the log. Nothing was saved.",
}


@never_cache
@require_safe
def health(request: HttpRequest) -> HttpResponse:  # noqa: ARG001
    """200 while the database answers; a broken database is an error like any other."""
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")
    return JsonResponse({"status": "well"})


def answer(request: HttpRequest, status: int) -> HttpResponse:
    """Problem details (RFC 9457) under /api/, a page elsewhere."""
    if request.path.startswith("/api/"):
        body = problem(status, CODES[status], SENTENCES[status])
        return JsonResponse(body, status=status, content_type=PROBLEM_TYPE)
    words = {"status": status, "title": TITLES[status], "sentence": SENTENCES[status]}
    return render(request, f"{status}.html", words, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    return answer(request, 400)


def not_allowed(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    return answer(request, 403)


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:  # noqa: ARG001
    return answer(request, 404)


def broke(request: HttpRequest) -> HttpResponse:
    return answer(request, 500)
