"""Addresses of passkeys under /api/v1/."""

from django.urls import URLPattern, URLResolver, path

from fleet.api import passkey_views as passkeys

urlpatterns: list[URLPattern | URLResolver] = [
    path("passkeys/", passkeys.PasskeyListView.as_view()),
    path("passkeys/options/", passkeys.PasskeyOptionsView.as_view()),
    path("passkeys/proof-options/", passkeys.ProofOptionsView.as_view()),
    path("passkeys/<int:passkey_id>/", passkeys.PasskeyView.as_view()),
]
