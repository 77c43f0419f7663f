"""What every template needs: the modes that change a page, never data of a person."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest

from clinic.people.navigation import links_for


def house(request: HttpRequest) -> dict[str, Any]:
    """`demo` (bool) and `nav` (list of labelled links for the signed-in role)."""
    user = getattr(request, "user", None)
    return {"demo": settings.DEMO, "nav": links_for(user, request.path)}
