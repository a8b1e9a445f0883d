"""The calendar feed: whoever has the secret address reads it, without signing in."""

from __future__ import annotations

import hashlib

from django.http import HttpRequest, HttpResponse
from django.views.generic import View

from fleet.common.http import none_match
from scheduling.reports.calendar_feed import calendar_text
from scheduling.selectors.calendar import link_of, things_of
from scheduling.services.calendar_links import stamp


class CalendarFeed(View):
    """One calendar as text; unchanged, it is answered by 304 without a body (RFC 9110 13.1.2)."""

    def get(self, request: HttpRequest, key: str) -> HttpResponse:
        """The calendar behind the secret."""
        link = link_of(key)
        entries = stamp(operator_id=link.operator_id, things=things_of(link))
        text = calendar_text(link.label, entries)
        tag = f'"{hashlib.sha256(text).hexdigest()[:32]}"'
        if none_match(request.headers.get("If-None-Match"), tag):
            answer = HttpResponse(status=304)
        else:
            answer = HttpResponse(text, content_type="text/calendar; charset=utf-8")
            answer["Content-Disposition"] = 'inline; filename="verglas.ics"'
        answer["ETag"] = tag
        answer["Cache-Control"] = "private, no-cache"
        answer["X-Robots-Tag"] = "noindex"
        return answer
