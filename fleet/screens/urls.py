"""Addresses of the fleet's screens."""

from django.urls import URLPattern, URLResolver, include, path

app_name = "fleet"
urlpatterns: list[URLPattern | URLResolver] = [
    path("", include("fleet.screens.fleet_urls")),
    path("", include("fleet.screens.house_urls")),
]
