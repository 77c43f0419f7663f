"""The language of the pages on which a client signs in: nobody is known yet, so the browser's own wish counts."""

from __future__ import annotations

from collections.abc import Callable

from django.http import HttpRequest, HttpResponse
from django.utils import translation
from django.utils.cache import patch_vary_headers

from clinic.people.rules.language import first_spoken

Handler = Callable[[HttpRequest], HttpResponse]
CLIENT_DOORS = ("/account/login/code/", "/sign-in/link/")


class ArrivingMiddleware:
    """Speaks the language that the browser asks for first on the pages of signing in by mail (RFC 9110, 12.5.4)."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if not request.path_info.startswith(CLIENT_DOORS):
            return self.get_response(request)
        with translation.override(first_spoken(request.headers.get("Accept-Language", ""))):
            response = self.get_response(request)
        patch_vary_headers(response, ["Accept-Language"])
        return response
