"""The only Python file that names all three apps' addresses."""

from django.contrib import admin
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from deploy import answers

handler400 = answers.bad_request
handler403 = answers.not_allowed
handler404 = answers.not_found
handler500 = answers.broke

urlpatterns = [
    path("health/", answers.health, name="health"),
    path("admin/", admin.site.urls),
    path("api/v1/schema/", SpectacularAPIView.as_view(), name="schema"),
    path("api/v1/", include("fleet.api.urls")),
    path("api/v1/", include("fleet.api.passkey_urls")),
    path("api/v1/", include("scheduling.api.urls")),
    path("api/v1/", include("records.api.urls")),
    path("mobile/", include("records.mobile.urls")),
    path("q/", include("records.mobile.label_urls")),
    path("", include("fleet.screens.urls")),
    path("", include("scheduling.screens.urls")),
    path("", include("records.screens.urls")),
]
