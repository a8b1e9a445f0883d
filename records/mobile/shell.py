"""The shell page, the manifest and the service worker: no data, so anybody may fetch them."""

from __future__ import annotations

import json
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.urls import reverse
from django.views.generic import TemplateView, View

from records.mobile.program import WORKER, program

NOT_KEPT = "no-cache"


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
        icon = program().files[[each.endswith("mark.svg") for each in program().files].index(True)]
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
                {"src": icon, "sizes": "any", "type": "image/svg+xml", "purpose": purpose}
                for purpose in ("any", "maskable")
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
