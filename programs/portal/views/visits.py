"""My visits: what is coming, what was, and cancelling."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from clinic.people.vocab import Role
from programs.portal.actions.cancel_own_visit import cancel_own_visit
from programs.portal.queries.visits import coming_visits, my_visit, past_visits


@page(Role.CLIENT)
def visits(request: HttpRequest) -> HttpResponse:
    """Coming visits in the site's zone (and the client's, where it differs); the last few past ones."""
    now = timezone.now()
    client = own_client(me(request))
    return render(
        request, "portal/visits.html",
        {
            "client": client, "page": page_of(coming_visits(me(request), now), request, 10),
            "past": past_visits(me(request), now),
        },
    )


@page(Role.CLIENT, methods=("GET", "POST"))
def cancel(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Asks first; cancels on POST."""
    now = timezone.now()
    visit = my_visit(me(request), public_id)
    context: dict[str, Any] = {"client": visit.client, "visit": visit}
    if request.method == "GET":
        return render(request, "portal/cancel.html", context)
    try:
        cancel_own_visit(by=me(request), appointment=visit, now=now)
    except Refusal as refusal:
        return render(request, "portal/cancel.html", {**context, "refusal": refusal}, status=refusal.status)
    messages.success(request, "Your visit is cancelled. Ring us when you want a new one.")
    return redirect("portal:visits")
