"""Who may call the API: closed by default."""

from __future__ import annotations

from typing import Any

from django.http import Http404
from rest_framework.authentication import SessionAuthentication
from rest_framework.permissions import BasePermission
from rest_framework.request import Request
from rest_framework.throttling import SimpleRateThrottle

from clinic.people.refusal import Refusal

ANY_SCOPE = "any"   # in a view's `scopes`: every token may


def scopes_of(request: Request) -> frozenset[str] | None:
    """What the token of a request may do; None when somebody is signed in, or nobody is."""
    return getattr(request.auth, "scopes", None)


class SessionWith401(SessionAuthentication):
    """Session sign-in with CSRF; an anonymous caller gets 401, not 403."""

    def authenticate_header(self, request: Request) -> str:
        return "Session"


class NobodyByDefault(BasePermission):
    """Refuses everybody, so that a view which names no roles is closed."""

    def has_permission(self, request: Request, view: Any) -> bool:
        return False


class AnyoneMayRead(BasePermission):
    """Opens reading to anybody: for the API description only, which holds nobody's data."""

    def has_permission(self, request: Request, view: Any) -> bool:
        return request.method in {"GET", "HEAD", "OPTIONS"}


class RolePermission(BasePermission):
    """Opens a method to the roles named in the view's `roles`; others get 404, as if the route did not exist."""

    def has_permission(self, request: Request, view: Any) -> bool:
        if not request.user.is_authenticated:
            return False
        method = "GET" if request.method == "HEAD" else request.method
        if request.user.role not in view.roles.get(method, ()):
            raise Http404
        carried = scopes_of(request)
        if carried is not None:
            wanted = view.scopes.get(method, "")
            if wanted != ANY_SCOPE and wanted not in carried:
                raise Refusal("insufficient_scope", "This token may not do this.", status=403, scope=wanted)
        return True


class TokenThrottle(SimpleRateThrottle):
    """So many requests a minute for each token; people who are signed in are not counted."""

    rate = "120/min"

    def get_cache_key(self, request: Request, view: Any) -> str | None:
        carried: Any = request.auth
        return None if scopes_of(request) is None else f"token-rate:{carried.public_id}"
