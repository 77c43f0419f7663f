"""Who may call the API: closed by default."""

from __future__ import annotations

from typing import Any

from django.http import Http404
from rest_framework.authentication import SessionAuthentication
from rest_framework.permissions import BasePermission
from rest_framework.request import Request


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
        return True
