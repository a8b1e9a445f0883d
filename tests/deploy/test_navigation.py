from collections.abc import Iterator
from types import SimpleNamespace

import pytest
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.test import RequestFactory, override_settings
from django.urls import include, path

from deploy.navigation import PLACES, bottom_of, navigation, navigation_for, resolved, with_current
from fleet.common.actor import Actor, Role
from fleet.common.errors import wrong
from fleet.templatetags.verglas_forms import error_summary


def page(request: HttpRequest) -> HttpResponse:
    return HttpResponse("page")


def places(*names: str) -> list:  # type: ignore[type-arg]
    return [path(f"{name}/", page, name=name) for name in names]


urlpatterns = [
    path("s/", include((places("board", "due-list", "tasks", "week", "report-event"), "scheduling"))),
    path("f/", include((places("aircraft-list", "people"), "fleet"))),
    path("out/", page, name="logout"),
]
ONLY = override_settings(ROOT_URLCONF=__name__)


@pytest.fixture(autouse=True)
def _addresses() -> Iterator[None]:
    with ONLY:
        yield


def request_of(actor: Actor | None, address: str = "/", cookie: str = "") -> HttpRequest:
    request = RequestFactory().get(address)
    request.COOKIES["theme"] = cookie
    if actor is not None:
        request.actor = actor  # type: ignore[attr-defined]
    return request


def actor_with(*roles: Role) -> Actor:
    return Actor(1, "Tove Aasen", 1, frozenset(roles))


def test_only_places_whose_address_exists_are_offered() -> None:
    found = [place.name for place in resolved(PLACES, frozenset({Role.CONTROLLER}))]
    assert "scheduling:board" in found
    assert "records:records" not in found


def test_an_auditor_is_not_offered_to_report_an_event() -> None:
    assert "scheduling:report-event" not in [p.name for p in resolved(PLACES, frozenset({Role.AUDITOR}))]
    assert "scheduling:report-event" in [p.name for p in resolved(PLACES, frozenset({Role.TECHNICIAN}))]


def test_somebody_without_a_role_is_offered_nothing() -> None:
    offered = navigation_for(frozenset(), "/")
    assert (offered.groups, offered.bottom, offered.more) == ((), (), ())


def test_the_place_with_the_longest_fitting_address_is_current() -> None:
    found = with_current(resolved(PLACES, frozenset({Role.CONTROLLER})), "/s/tasks/12/")
    assert [place.name for place in found if place.is_current] == ["scheduling:tasks"]


@pytest.mark.parametrize(
    ("role", "first"),
    [
        (Role.TECHNICIAN, "Tasks"),
        (Role.CONTROLLER, "Board"),
        (Role.DIRECTOR, "Board"),
        (Role.INSPECTOR, "Tasks"),
    ],
)
def test_the_thumb_finds_four_places_in_the_order_of_the_role(role: Role, first: str) -> None:
    found = bottom_of(resolved(PLACES, frozenset({role})), frozenset({role}))
    assert len(found) == 4
    assert found[0].short == first


def test_the_frame_shows_name_role_places_and_the_safety_sentence() -> None:
    html = render_to_string("base.html", request=request_of(actor_with(Role.CONTROLLER), "/s/due-list/"))
    assert "Tove Aasen" in html
    assert "Controller" in html
    assert '<a href="/s/due-list/" aria-current="page">Due list</a>' in html
    assert '<form method="post" action="/out/">' in html
    assert "licensed staff decide; this tool does not replace them." in html


def test_a_stranger_sees_no_places() -> None:
    context = navigation(request_of(None))
    assert context["navigation"].groups == ()
    assert context["actor"] is None


def test_the_chosen_theme_is_drawn_by_the_server_and_a_made_up_one_is_not() -> None:
    dark = render_to_string("base.html", request=request_of(actor_with(Role.CONTROLLER), cookie="dark"))
    odd = render_to_string("base.html", request=request_of(actor_with(Role.CONTROLLER), cookie='"><script>'))
    assert '<html lang="en-GB" data-theme="dark">' in dark
    assert '<html lang="en-GB">' in odd


@pytest.mark.parametrize(
    ("code", "words"), [(400, "could not be read"), (403, "may not"), (404, "Not found"), (500, "fault")]
)
def test_each_error_page_says_what_happened(code: int, words: str) -> None:
    html = render_to_string(f"{code}.html", request=request_of(None))
    assert words in html
    assert 'href="/"' in html


def test_a_refusal_page_gives_reason_and_remedy() -> None:
    reason = SimpleNamespace(sentence="was signed – open its record")
    refusal = SimpleNamespace(status=409, code="closed", sentence="This task is closed.", reasons=[reason])
    html = render_to_string("refused.html", {"refusal": refusal}, request=request_of(None))
    assert "This task is closed." in html
    assert "was signed – open its record" in html


def test_a_refusal_that_is_its_reason_is_said_once() -> None:
    refusal = wrong("minutes", 0, "is no time", "enter 1 or more")
    html = render_to_string("refused.html", {"refusal": refusal}, request=request_of(None))
    assert html.count("enter 1 or more") == 1
    (problem,) = error_summary(refusal=refusal)["problems"]
    assert error_summary(refusal=refusal)["sentence"] == ""
    assert problem == ("", "", refusal.sentence)
