"""The screening of a client before exercise is prescribed."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.forms import put_refusal
from clinic.people.paging import page_of
from clinic.people.queries import episode_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.prescribing.actions.record_screening import record_screening
from programs.prescribing.forms import ScreeningForm
from programs.prescribing.screening import client_of, screenings_of, standing_of, yes_words
from programs.prescribing.views.choosing import uuid_of

ROWS = 10


@page(Role.CLINICIAN, Role.LEAD, methods=("GET", "POST"))
def screening(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """What was answered, and the questions to ask; ?episode= goes on to a program for that episode. The lead only reads."""
    client = client_of(me(request), public_id)
    may_ask = me(request).role == Role.CLINICIAN
    onward = request.GET.get("episode", "")
    if onward:
        episode = episode_for(me(request), uuid_of(onward))
        onward = f"{reverse('prescribing:new')}?episode={episode.public_id}"
    form, refusal = ScreeningForm(request.POST if request.method == "POST" else None), None
    if request.method == "POST":
        if not may_ask:
            raise NotThere
        refusal = _keep(request, client, form)
        if refusal is None and form.is_valid():
            messages.success(request, "The answers are kept.")
            return redirect(onward or reverse("prescribing:screening", args=[public_id]))
    today = zones.day_in(timezone.now(), client.zone)
    rows = page_of(screenings_of(client), request, ROWS)
    context = {
        "client": client, "form": form, "refusal": refusal, "may_ask": may_ask, "page": rows, "onward": onward,
        "standing": standing_of(client, today), "history": [(row, yes_words(row)) for row in rows],
    }
    return render(request, "prescribing/screening.html", context, status=400 if refusal or form.errors else 200)


def _keep(request: HttpRequest, client: Any, form: ScreeningForm) -> Refusal | None:
    """Record what was answered; None when it is kept or the form itself says what is wrong."""
    if not form.is_valid():
        return None
    try:
        record_screening(by=me(request), client=client, now=timezone.now(), **form.answers())
    except Refusal as refused:
        put_refusal(form, refused.fields)
        return refused
    return None
