"""What was measured, in plain words."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from clinic.people.access import me
from clinic.people.paging import page_of
from clinic.people.queries import own_client
from clinic.visits.queries import own_series
from programs.portal.views.client_page import client_page


@client_page()
def measures(request: HttpRequest) -> HttpResponse:
    """Each measure with its newest value, its first, and what the difference means."""
    lines = [(episode, line) for episode, found in own_series(me(request)) for line in found]
    return render(
        request, "portal/measures.html", {"client": own_client(me(request)), "page": page_of(lines, request, 12)}
    )
