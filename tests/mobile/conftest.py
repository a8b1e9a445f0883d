"""What the tests of the phone share."""

from __future__ import annotations

import mimetypes
from collections.abc import Callable
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders
from playwright.sync_api import Page, Route

ORIGIN = "http://verglas.test"
HERE = Path(__file__).parent


def serve_scripts(route: Route) -> None:
    """A bare page, and the product's own static files; nothing else."""
    path = route.request.url.removeprefix(ORIGIN)
    if not path.startswith("/static/"):
        route.fulfill(body="<!doctype html><title>bare</title>", content_type="text/html")
        return
    found = finders.find(path.removeprefix("/static/"))
    if not found:
        route.fulfill(status=404)
        return
    media_type = mimetypes.guess_type(found)[0] or "application/octet-stream"
    route.fulfill(body=Path(found).read_bytes(), content_type=media_type)


@pytest.fixture
def ask_scripts(page: Page) -> Callable[[str, object], object]:
    """Call a script of this folder in Chromium; it may import the phone's own: `ask_scripts("ask_golden.js", cases)`."""
    page.route(f"{ORIGIN}/**", serve_scripts)
    page.goto(f"{ORIGIN}/")
    return lambda name, argument: page.evaluate((HERE / name).read_text(encoding="utf-8"), argument)
