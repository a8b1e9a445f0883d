"""Addresses of the phone's program; the service worker's own folder is its scope."""

from django.urls import URLPattern, URLResolver, path

from records.mobile import shell

app_name = "mobile"

urlpatterns: list[URLPattern | URLResolver] = [
    path("", shell.Shell.as_view(), name="shell"),
    path("manifest.webmanifest", shell.Manifest.as_view(), name="manifest"),
    path("sw.js", shell.Worker.as_view(), name="worker"),
]
