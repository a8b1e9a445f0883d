"""Where the codes on printed labels lead: into the phone's program, which knows whether the reader may look."""

from urllib.parse import quote

from django.http import HttpRequest, HttpResponseRedirect
from django.urls import URLPattern, URLResolver, path, reverse

app_name = "labels"


def aircraft_label(_request: HttpRequest, registration: str) -> HttpResponseRedirect:
    """The aircraft's place in the phone's program."""
    return HttpResponseRedirect(f"{reverse('mobile:shell')}#/aircraft/{quote(registration, safe='')}")


def component_label(_request: HttpRequest, component_id: int) -> HttpResponseRedirect:
    """The component's place in the phone's program."""
    return HttpResponseRedirect(f"{reverse('mobile:shell')}#/component/{component_id}")


urlpatterns: list[URLPattern | URLResolver] = [
    path("a/<str:registration>/", aircraft_label, name="aircraft"),
    path("c/<int:component_id>/", component_label, name="component"),
]
