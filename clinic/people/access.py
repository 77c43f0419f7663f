"""Who may open a page: one decorator, closed unless it names roles."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed
from rest_framework.request import Request

from clinic.people.models import User
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role

View = Callable[..., HttpResponse]
STAFF = (Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD)


def page(*roles: Role, methods: tuple[str, ...] = ("GET",)) -> Callable[[View], View]:
    """Open a view to `roles` for `methods` (GET includes HEAD).

    Anonymous visitors are sent to sign in; every other role gets the same 404 as for a page that does not exist,
    and so does a door that answers NotThere.
    """

    def wrap(view: View) -> View:
        @wraps(view)
        def guarded(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
            if not request.user.is_authenticated:
                return redirect_to_login(request.get_full_path())
            if request.user.role not in roles:
                raise Http404
            allowed = {*methods, "HEAD"} if "GET" in methods else set(methods)
            if request.method not in allowed:
                return HttpResponseNotAllowed(sorted(allowed))
            try:
                return view(request, *args, **kwargs)
            except NotThere as gone:
                raise Http404 from gone

        guarded.access = {"roles": roles, "methods": methods}  # type: ignore[attr-defined]
        return guarded

    return wrap


def me(request: HttpRequest | Request) -> User:
    """The signed-in user of a guarded request."""
    return cast(User, request.user)
