"""The sign-in library's routes, less what a clinic does not want: addresses are changed at the desk, nobody signs up."""

from __future__ import annotations

from allauth.account.views import logout
from django.http import Http404, HttpRequest, HttpResponse
from django.urls import include, path


def closed(request: HttpRequest) -> HttpResponse:
    """The same answer as for a page that does not exist."""
    raise Http404


def sign_out(request: HttpRequest) -> HttpResponse:
    """Sign out, and have the browser forget what it kept (W3C Clear-Site-Data).

    Its storage only when the page says that nothing there still waits to be sent.
    """
    answer = logout(request)
    if request.method == "POST":
        nothing_kept = request.POST.get("nothing_kept") == "1"
        answer["Clear-Site-Data"] = '"cache", "storage"' if nothing_kept else '"cache"'
    return answer


urlpatterns = [
    path("logout/", sign_out, name="account_logout"),
    path("email/", closed, name="account_email"),
    path("signup/", closed, name="account_signup"),
    path("password/set/", closed, name="account_set_password"),
    path("", include("allauth.account.urls")),
]
