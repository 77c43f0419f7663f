"""Request ids, session lengths by role, and pages that no cache keeps."""

from __future__ import annotations

import re
import uuid
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect
from django.utils import timezone

from clinic.people import audit, logs, looking
from clinic.people.signin import has_second_factor
from clinic.people.vocab import Role

Handler = Callable[[HttpRequest], HttpResponse]
_CONTROL = re.compile(r"[\x00-\x1f\x7f]")
_SECOND_FACTOR_PATHS = ("/account/2fa/", "/account/reauthenticate/", "/account/logout/", "/static/")


class RequestIdMiddleware:
    """Gives each request an id for the logs; refuses control characters in path and query, and NUL in a form, with a plain
    400: no keyboard makes it, and PostgreSQL keeps no text with one."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        token, through = logs.request_id.set(uuid.uuid4().hex[:12]), audit.through.set("")
        try:
            raw = request.META.get("QUERY_STRING", "")
            if _CONTROL.search(request.path_info) or re.search(r"%(?:0[0-9a-fA-F]|1[0-9a-fA-F]|7[fF])", raw):
                return _odd_address(request)
            response = self.get_response(request)
            response["X-Request-Id"] = logs.request_id.get()
            return response
        finally:
            logs.request_id.reset(token)
            audit.through.reset(through)


    def process_view(self, request: HttpRequest, view: object, args: object, kwargs: object) -> HttpResponse | None:
        """The fields of a form, before its view reads them; JSON is its parsers' to judge."""
        if request.method != "POST" or request.path_info.startswith("/api/"):
            return None
        if any("\x00" in text for name, values in request.POST.lists() for text in (name, *values)):
            return HttpResponse("A field holds a control character.", status=400, content_type="text/plain")
        return None


def _odd_address(request: HttpRequest) -> HttpResponse:
    sentence = "This address holds a control character."
    if request.path_info.startswith("/api/"):
        body = {"type": "about:blank", "title": "bad_request", "status": 400, "detail": sentence}
        return JsonResponse(body, status=400, content_type="application/problem+json")
    return HttpResponse(sentence, status=400, content_type="text/plain")


class LookingMiddleware:
    """Writes down which clients' records a member of staff was shown; an action writes its own row."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.method != "GET":
            return self.get_response(request)
        token, served = looking.begin(), False
        try:
            response = self.get_response(request)
            served = response.status_code < 300
            return response
        finally:
            match = request.resolver_match
            looking.end(token, route=match.view_name if match else "", served=served, now=timezone.now())


class SessionRulesMiddleware:
    """Staff sessions last a shift; a deactivated person is out at the next request; signed-in pages are not stored."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        user = request.user
        if user.is_authenticated and user.role != Role.CLIENT:
            started = request.session.setdefault("started", int(timezone.now().timestamp()))
            if timezone.now().timestamp() - started > settings.STAFF_SESSION_SECONDS:
                logout(request)
            elif (
                settings.STAFF_SECOND_FACTOR_REQUIRED
                and not request.path_info.startswith(_SECOND_FACTOR_PATHS)
                and not has_second_factor(user)
            ):
                return redirect("/account/2fa/totp/activate/")
        response = self.get_response(request)
        if user.is_authenticated and "Cache-Control" not in response:
            response["Cache-Control"] = "no-store"
        return response
