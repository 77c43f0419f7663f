"""Pages of trust: opening a record beyond one's caseload, who did and saw what, whether the trail is whole."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.forms import put_refusal
from clinic.people.paging import page_of
from clinic.people.queries import client_for, own_client, sites_for
from clinic.people.refusal import Refusal
from clinic.people.signin import step_up
from clinic.people.vocab import Role
from clinic.trust import queries, words
from clinic.trust.actions.close_record import close_record
from clinic.trust.actions.erase_person import erase_person
from clinic.trust.actions.export_person import export_person
from clinic.trust.actions.open_record import open_record
from clinic.trust.forms import ErasingForm, OpeningForm


def _zone(request: HttpRequest) -> str:
    site = sites_for(me(request)).first()
    return site.zone if site else "UTC"


@page(Role.CLINICIAN, methods=("GET", "POST"))
def open_page(request: HttpRequest) -> HttpResponse:
    """Open the record of a client who is not on one's caseload, for a written reason and a limited time."""
    form = OpeningForm(request.POST or None)
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            opening = open_record(by=me(request), now=timezone.now(), **form.cleaned_data)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "The record is open to you for a few hours. The practice lead has been told.")
            return redirect("people:client", public_id=opening.client.public_id)
    wrong = refusal is not None or bool(form.errors)
    return render(request, "trust/open.html", {"form": form, "refusal": refusal}, status=400 if wrong else 200)


@page(Role.CLINICIAN, Role.LEAD)
def openings(request: HttpRequest) -> HttpResponse:
    """Records opened beyond a caseload: a clinician's own, all of the site's for the lead."""
    rows = page_of(queries.openings_for(me(request)), request)
    return render(request, "trust/openings.html", {"page": rows, "now": timezone.now(), "zone": _zone(request)})


@page(Role.CLINICIAN, Role.LEAD, methods=("POST",))
def end_opening(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """End an opening before its time."""
    opening = queries.opening_for(me(request), public_id)
    try:
        close_record(by=me(request), opening=opening, now=timezone.now())
    except Refusal as refused:
        messages.error(request, refused.sentence)
    else:
        messages.success(request, "The record is closed again.")
    return redirect("trust:openings")


@page(Role.LEAD)
def client_trail(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Who did or saw what of one client's record."""
    client = client_for(me(request), public_id)
    rows = page_of(queries.trail_of(me(request), client), request)
    lines = [{"at": row.at, "who": words.who(row.by), "what": words.what(row)} for row in rows]
    context = {"client": client, "page": rows, "lines": lines, "zone": _zone(request)}
    return render(request, "trust/client_trail.html", context)


def _file(content: bytes, now: datetime) -> HttpResponse:
    answer = HttpResponse(content, content_type="application/zip")
    # no person's name: file names stay in lists of downloads
    answer["Content-Disposition"] = f'attachment; filename="record-{now:%Y-%m-%d}.zip"'
    return answer


@page(Role.LEAD, methods=("POST",))
@step_up
def export_client(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Everything about one client as a file."""
    now = timezone.now()
    return _file(export_person(by=me(request), client=client_for(me(request), public_id), now=now), now)


@page(Role.CLIENT, methods=("POST",))
def export_own(request: HttpRequest) -> HttpResponse:
    """Everything about oneself as a file."""
    now = timezone.now()
    return _file(export_person(by=me(request), client=own_client(me(request)), now=now), now)


@page(Role.LEAD, methods=("GET", "POST"))
@step_up
def erase_client(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a person out of the records: asks for the full name, cannot be undone."""
    client = client_for(me(request), public_id)
    form = ErasingForm(request.POST or None)
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            erase_person(by=me(request), client=client, now=timezone.now(), **form.cleaned_data)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "The person is taken out of the records. Counts and dates stay.")
            return redirect("people:clients")
    wrong = refusal is not None or bool(form.errors)
    context = {"client": client, "form": form, "refusal": refusal}
    return render(request, "trust/erase.html", context, status=400 if wrong else 200)


@page(Role.LEAD, methods=("GET", "POST"))
def trail(request: HttpRequest) -> HttpResponse:
    """The chain over the trail: how long it is, and, when asked, whether it is whole."""
    found = queries.verdict(now=timezone.now()) if request.method == "POST" else None
    context = {"head": queries.head(), "waiting": queries.unsealed().count(), "found": found}
    return render(request, "trust/trail.html", context)
