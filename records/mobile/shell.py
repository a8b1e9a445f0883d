"""The shell page, the manifest and the service worker: no data, so anybody may fetch them."""

from __future__ import annotations

import json
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.templatetags.static import static
from django.urls import reverse
from django.views.generic import TemplateView, View

from records.mobile.program import WORKER, program

NOT_KEPT = "no-cache"
# The last one leaves room around the mark, for phones that cut icons round.
ICONS = (
    ("records/mobile/icon-192.png", 192, "any"),
    ("records/mobile/icon-512.png", 512, "any"),
    ("records/mobile/icon-masked-512.png", 512, "maskable"),
)


class Shell(TemplateView):
    """The one page; everything else is drawn by its scripts."""

    template_name = "records/mobile/shell.html"

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        """The files of the program."""
        return {**super().get_context_data(**kwargs), "program": program()}

    def render_to_response(self, context: dict[str, Any], **kwargs: Any) -> HttpResponse:
        """The browser asks again each time; the service worker answers without reception."""
        response = super().render_to_response(context, **kwargs)
        response["Cache-Control"] = NOT_KEPT
        return response


class Manifest(View):
    """What makes it installable."""

    def get(self, request: HttpRequest) -> JsonResponse:
        """Name, start, colours, icon."""
        home = reverse("mobile:shell")
        body = {
            "id": home,
            "name": "Verglas",
            "short_name": "Verglas",
            "description": "Today's work on the aircraft, step by step, with or without reception.",
            "start_url": home,
            "scope": home,
            "display": "standalone",
            "orientation": "portrait",
            "background_color": "#f5f1e6",
            "theme_color": "#f5f1e6",
            "lang": "en-GB",
            "icons": [
                {"src": static(name), "sizes": f"{size}x{size}", "type": "image/png", "purpose": purpose}
                for name, size, purpose in ICONS
            ],
            "shortcuts": [
                {"name": "Scan a label", "url": f"{home}#/scan"},
                {"name": "Report an event", "url": f"{home}#/report"},
            ],
        }
        return JsonResponse(
            body, content_type="application/manifest+json", headers={"Cache-Control": NOT_KEPT}
        )


class Worker(View):
    """The service worker, with the present program written in front of it."""

    def get(self, request: HttpRequest) -> HttpResponse:
        """The script; the browser looks for a new one each time it starts the program."""
        now = program()
        what = {
            "version": now.version,
            "shell": reverse("mobile:shell"),
            "files": now.files,
            "sometimes": now.sometimes,
        }
        text = f"const PROGRAM = {json.dumps(what)};\n{WORKER.read_text(encoding='utf-8')}"
        return HttpResponse(text, content_type="text/javascript", headers={"Cache-Control": NOT_KEPT})
