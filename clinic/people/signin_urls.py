"""The sign-in library's routes, less what a clinic does not want: addresses are changed at the desk, nobody signs up."""

from __future__ import annotations

from django.http import Http404, HttpRequest, HttpResponse
from django.urls import include, path


def closed(request: HttpRequest) -> HttpResponse:
    """The same answer as for a page that does not exist."""
    raise Http404


urlpatterns = [
    path("email/", closed, name="account_email"),
    path("signup/", closed, name="account_signup"),
    path("password/set/", closed, name="account_set_password"),
    path("", include("allauth.account.urls")),
]
