"""Every route. Pages of each app at the root, the API under /api/v1/."""

from __future__ import annotations

from django.urls import URLPattern, URLResolver, include, path
from drf_spectacular.views import SpectacularJSONAPIView

from clinic.people.permissions import AnyoneMayRead

api: list[URLPattern | URLResolver] = [
    path("", include("clinic.people.api_urls")),
    path("", include("clinic.booking.api_urls")),
    path("", include("clinic.visits.api_urls")),
    path("", include("clinic.reminders.api_urls")),
    path("", include("programs.library.api_urls")),
    path("", include("programs.prescribing.api_urls")),
    path("", include("programs.following.api_urls")),
    path("", include("programs.portal.api_urls")),
    path("openapi.json", SpectacularJSONAPIView.as_view(permission_classes=[AnyoneMayRead]), name="openapi"),
]

urlpatterns = [
    path("", include("clinic.people.urls")),
    path("", include("clinic.booking.urls")),
    path("", include("clinic.visits.urls")),
    path("", include("clinic.reminders.urls")),
    path("", include("clinic.trust.urls")),
    path("", include("programs.library.urls")),
    path("", include("programs.prescribing.urls")),
    path("", include("programs.following.urls")),
    path("portal/", include("programs.portal.urls")),
    path("", include("dashboards.pages.urls")),
    path("account/", include("clinic.people.signin_urls")),
    path("account/2fa/", include("allauth.mfa.urls")),
    path("api/v1/", include((api, "api"))),
]

handler400 = "clinic.project.errors.bad_request"
handler403 = "clinic.project.errors.forbidden"
handler404 = "clinic.project.errors.not_found"
handler500 = "clinic.project.errors.server_error"
