"""What every template needs: the modes that change a page, never data of a person."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.utils.translation import get_language

from clinic.people.navigation import links_for
from clinic.people.tour import tour_for


def house(request: HttpRequest) -> dict[str, Any]:
    """`demo` (bool), `nav` (the role's labelled links), `tour` (its stop, or None) and `page_language` (BCP 47)."""
    user = getattr(request, "user", None)
    language = (get_language() or "en").split("-")[0]
    return {
        "demo": settings.DEMO, "nav": links_for(user, request.path), "tour": tour_for(user, request.path),
        "page_language": language,
    }
