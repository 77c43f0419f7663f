"""What a phone needs to know to put the portal on its home screen."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, JsonResponse
from django.templatetags.static import static
from django.urls import reverse

from programs.portal.views.client_page import client_page

ICONS = (("any", "portal/icon.svg"), ("maskable", "portal/icon-maskable.svg"))


@client_page()
def manifest(request: HttpRequest) -> HttpResponse:
    """The web app manifest (W3C Web Application Manifest). It holds nothing of the client."""
    start = reverse("portal:today")
    body = {
        "id": start,
        "name": "Intervale: my home program",
        "short_name": "Intervale",
        "description": "Today's session, my weeks and my visits.",
        "lang": "en",
        "start_url": start,
        "scope": "/",
        "display": "standalone",
        "background_color": "#f7f4ec",
        "theme_color": "#1d5c5e",
        "icons": [
            {"src": static(path), "sizes": "any", "type": "image/svg+xml", "purpose": purpose} for purpose, path in ICONS
        ],
        "shortcuts": [
            {"name": "Start my session", "url": reverse("portal:session")},
            {"name": "Something is wrong", "url": reverse("portal:help")},
        ],
    }
    return JsonResponse(body, content_type="application/manifest+json")
