"""Every piece on one page, in a real browser: nobody is shut out, and nothing breaks the security policy."""

import mimetypes
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from django import forms
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.template import Context, Template
from django.test import RequestFactory, override_settings
from django.urls import include, path
from playwright.sync_api import Browser, Page, Route

from deploy.navigation import navigation
from fleet.common.actor import Actor, Role
from fleet.common.chart import Chart, ChartEvent, ChartForecast, ChartLimit, ChartPoint, PointKind
from fleet.common.errors import Invalid, Reason

GALLERY = Path(__file__).with_name("gallery.html")
ORIGIN = "http://verglas.test"
POLICY = "default-src 'self'; img-src 'self' data:; object-src 'none'; base-uri 'none'; form-action 'self'"
DESK, PHONE = {"width": 1366, "height": 900}, {"width": 390, "height": 844}


def page_view(request: HttpRequest) -> HttpResponse:
    return HttpResponse("page")


def places(*names: str) -> list[Any]:
    return [path(f"{name}/", page_view, name=name) for name in names]


urlpatterns = [
    path("s/", include((places("board", "due-list", "tasks", "week", "report-event"), "scheduling"))),
    path("f/", include((places("aircraft-list", "people", "stock"), "fleet"))),
    path("out/", page_view, name="logout"),
]


class EventForm(forms.Form):
    aircraft = forms.ChoiceField(choices=[("1", "QX-SKA"), ("2", "QX-SKB")])
    hours = forms.CharField(label="Flight hours", help_text="Such as 1304:30.")
    kind = forms.ChoiceField(
        label="What was done", choices=[("a", "Panel"), ("b", "Tank")], widget=forms.RadioSelect
    )
    read = forms.BooleanField(label="Serial number read from the plate")


def chart() -> Chart:
    start = date(2026, 1, 5)
    kinds = (PointKind.NORMAL, PointKind.LEFT_OUT, PointKind.FLAGGED, PointKind.FAILED)
    points = tuple(
        ChartPoint(start + timedelta(days=30 * n), Decimal(120 - 9 * n), kind) for n, kind in enumerate(kinds)
    )
    return Chart(
        "flow",
        "Flow of the left outboard panel",
        "ml/min",
        points,
        limits=(ChartLimit(Decimal(90), "Least allowed", False),),
        events=(ChartEvent(start, "Panel replaced"),),
        forecast=(ChartForecast(date(2026, 6, 1), 60.0, 80.0, 95.0),),
    )


def gallery() -> str:
    request = RequestFactory().get("/s/due-list/?sort=due")
    request.actor = Actor(1, "Tove Aasen", 1, frozenset({Role.CONTROLLER}))  # type: ignore[attr-defined]
    row = SimpleNamespace(
        when=datetime(2026, 3, 14, 8, 30, tzinfo=UTC),
        what="Panel replaced",
        level="soon",
        who="",
        url="",
        detail="",
    )
    values = {
        "form": EventForm({"aircraft": "1", "hours": ""}),
        "refusal": Invalid(
            "below", "Not stored", Reason("is below the last", "hours", "1299:10", "check the meter")
        ),
        "chart": chart(),
        "entries": [row],
        "bases": [(1, "Norrvik"), (2, "Hallin")],
        "pairs": [("Registration", "QX-SKA"), ("Pod", None)],
        "tabs": [("Tasks", "#", 6), ("Records", "#")],
        "messages": [SimpleNamespace(level_tag="error")],
    }
    with override_settings(ROOT_URLCONF=__name__):
        return Template(GALLERY.read_text()).render(
            Context({"request": request, **navigation(request), **values})
        )


def answer(route: Route, html: str) -> None:
    address = route.request.url.removeprefix(ORIGIN).split("?")[0].split("#")[0]
    if not address.startswith("/static/"):
        route.fulfill(body=html, content_type="text/html", headers={"Content-Security-Policy": POLICY})
        return
    found = finders.find(address.removeprefix("/static/"))
    assert isinstance(found, str), f"{address} is missing"
    kind = mimetypes.guess_type(found)[0] or "application/octet-stream"
    route.fulfill(path=found, content_type=kind)


@pytest.fixture
def opened(browser: Browser, request: pytest.FixtureRequest) -> Iterator[Page]:
    """The gallery at a desk by day, or as the test's `view` says; anything the browser complains of fails."""
    size, scheme = getattr(request, "param", (DESK, "light"))
    context = browser.new_context(viewport=size, color_scheme=scheme)
    page = context.new_page()
    html = gallery()
    page.route("**/*", lambda route: answer(route, html))
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(f"{ORIGIN}/s/due-list/?sort=due")
    page.wait_for_function("document.documentElement.classList.contains('scripted')")
    yield page
    assert complaints == []
    context.close()


VIEWS = [(DESK, "light"), (DESK, "dark"), (PHONE, "light"), (PHONE, "dark")]
every_view = pytest.mark.parametrize(
    "opened", VIEWS, indirect=True, ids=["desk", "desk-dark", "phone", "phone-dark"]
)
on_a_phone = pytest.mark.parametrize("opened", [(PHONE, "light")], indirect=True, ids=["phone"])


@every_view
def test_no_rule_of_accessibility_is_broken_and_nothing_is_wider_than_the_window(opened: Page) -> None:
    opened.evaluate("document.querySelectorAll('main details').forEach(one => { one.open = true })")
    opened.evaluate("window.scrollTo(0, document.body.scrollHeight)")
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = Axe().run(opened, options={"runOnly": tags}).response["violations"]
    assert [(one["id"], one["nodes"][0]["html"]) for one in found] == []
    assert opened.evaluate("document.documentElement.scrollWidth <= window.innerWidth")


TARGETS = ".button, .bottom-place, .choice, select, input:not([type=checkbox], [type=radio], [type=hidden])"


@on_a_phone
def test_what_a_thumb_must_hit_is_56_px_high_on_a_phone(opened: Page) -> None:
    heights = opened.evaluate(
        """targets => [...document.querySelectorAll(targets)].filter(one => one.offsetParent)
           .map(one => [one.outerHTML.slice(0, 60), one.getBoundingClientRect().height])""",
        TARGETS,
    )
    assert len(heights) >= 8
    assert [row for row in heights if row[1] < 56] == []


@on_a_phone
def test_the_focus_is_never_hidden_behind_the_bottom_places(opened: Page) -> None:
    for control in opened.locator("main :is(input, select, .button):visible").all():
        control.focus()
        hidden = control.evaluate(
            """one => one.getBoundingClientRect().bottom >
                document.querySelector('.bottom').getBoundingClientRect().top + 1"""
        )
        assert not hidden, control.evaluate("one => one.outerHTML")


def test_a_dialog_opens_takes_the_focus_and_closes_with_escape(opened: Page) -> None:
    opened.get_by_role("button", name="Withdraw task").click()
    dialog = opened.locator("dialog")
    assert dialog.is_visible()
    assert opened.evaluate("document.querySelector('dialog').contains(document.activeElement)")
    opened.keyboard.press("Escape")
    assert not dialog.is_visible()


def test_the_answer_to_why_is_one_tap_away(opened: Page) -> None:
    words = opened.get_by_text("Raised by the panel replacement.")
    assert not words.is_visible()
    opened.get_by_text("Why?").click()
    assert words.is_visible()


def test_the_first_stop_of_the_keyboard_skips_to_the_content(opened: Page) -> None:
    assert opened.evaluate("document.querySelector('a, button, summary, input').className") == "skip"
    skip = opened.locator(".skip")
    skip.focus()
    box = skip.bounding_box()
    assert box is not None
    assert box["y"] >= 0
    opened.keyboard.press("Enter")
    assert opened.evaluate("document.activeElement.id") == "main"


def test_the_summary_of_errors_takes_the_focus(opened: Page) -> None:
    assert opened.evaluate("document.activeElement.className") == "errors"


@every_view
def test_the_dark_hangar_mode_turns_and_is_kept_in_a_cookie(opened: Page) -> None:
    was_dark = opened.evaluate("matchMedia('(prefers-color-scheme: dark)').matches")
    opened.locator(".account summary").click()
    opened.get_by_role("button", name="Dark hangar mode").click()
    wanted = "light" if was_dark else "dark"
    ground = {"light": "rgb(245, 241, 230)", "dark": "rgb(16, 22, 26)"}[wanted]
    assert opened.evaluate("getComputedStyle(document.documentElement).backgroundColor") == ground
    assert f"theme={wanted}" in opened.evaluate("document.cookie")
