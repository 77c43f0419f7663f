"""My visits: what is coming, what was; saying yes, moving, cancelling, and the calendar."""

from __future__ import annotations

from datetime import datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.dateparse import parse_datetime
from django.utils.translation import gettext as _

from clinic.booking.away import moves_for
from clinic.people.access import me
from clinic.people.paging import page_of
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from programs.portal.actions.book_own_visit import book_own_visit
from programs.portal.actions.cancel_own_visit import cancel_own_visit
from programs.portal.actions.confirm_own_visit import confirm_own_visit
from programs.portal.actions.move_own_visit import move_own_visit
from programs.portal.calendar import visit_file
from programs.portal.queries.visits import (
    coming_visits,
    inside_notice,
    my_visit,
    openings_to_book,
    openings_to_move,
    own_kind,
    own_kinds,
    past_visits,
)
from programs.portal.views.client_page import client_page
from programs.portal.wording import spoken_refusal


@client_page()
def visits(request: HttpRequest) -> HttpResponse:
    """Coming visits in the site's zone (and the client's, where it differs); the last few past ones."""
    now = timezone.now()
    client = own_client(me(request))
    page = page_of(coming_visits(me(request), now), request, 10)
    return render(
        request, "portal/visits.html",
        {
            "client": client, "may_book": bool(own_kinds()), "page": page,
            "ring": {visit.pk for visit in page if inside_notice(visit, now)},
            "past": past_visits(me(request), now), "moves": moves_for(me(request))[:5],
        },
    )


@client_page(("GET", "POST"))
def book(request: HttpRequest) -> HttpResponse:
    """Times to book (`?kind=`), each a button."""
    now, kind = timezone.now(), own_kind(request.GET.get("kind", ""))
    context: dict[str, Any] = {"client": own_client(me(request)), "kind": kind, "kinds": own_kinds()}
    if request.method == "POST":
        try:
            book_own_visit(by=me(request), kind=kind, start=_start(request), now=now)
        except Refusal as refusal:
            shown = {**context, "openings": openings_to_book(me(request), kind, now)}
            return _refused(request, "portal/book.html", shown, refusal)
        messages.success(request, _("Your visit is booked."))
        return redirect("portal:visits")
    return render(request, "portal/book.html", {**context, "openings": openings_to_book(me(request), kind, now)})


@client_page(("GET", "POST"))
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
        return _refused(request, "portal/cancel.html", context, refusal)
    if visit.status == "pending":
        messages.success(request, _("Thank you for saying so. The time goes to somebody else."))
    else:
        messages.success(request, _("Your visit is cancelled. Ring us when you want a new one."))
    return redirect("portal:visits")


@client_page(("GET", "POST"))
def confirm(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Shows the time; says yes on POST."""
    visit = my_visit(me(request), public_id)
    context: dict[str, Any] = {"client": visit.client, "visit": visit}
    if request.method == "GET":
        return render(request, "portal/confirm.html", context)
    try:
        confirm_own_visit(by=me(request), appointment=visit, now=timezone.now())
    except Refusal as refusal:
        return _refused(request, "portal/confirm.html", context, refusal)
    messages.success(request, _("Thank you. Your visit is booked."))
    return redirect("portal:visits")


@client_page(("GET", "POST"))
def move(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Times to choose from, each a button; a time that somebody took meanwhile is said, with fresh ones below."""
    now = timezone.now()
    visit = my_visit(me(request), public_id)
    context: dict[str, Any] = {"client": visit.client, "visit": visit}
    if request.method == "POST":
        try:
            move_own_visit(by=me(request), appointment=visit, start=_start(request), now=now)
        except Refusal as refusal:
            return _refused(request, "portal/move.html", {**context, "openings": openings_to_move(visit, now)}, refusal)
        messages.success(request, _("Your visit is moved."))
        return redirect("portal:visits")
    return render(request, "portal/move.html", {**context, "openings": openings_to_move(visit, now)})


def _start(request: HttpRequest) -> datetime:
    try:
        start = parse_datetime(request.POST.get("start", ""))
    except ValueError:
        start = None
    if start is None or start.tzinfo is None:
        raise Refusal("invalid", "Choose one of the times.", status=400)
    return start


def _refused(request: HttpRequest, template: str, context: dict[str, Any], refusal: Refusal) -> HttpResponse:
    return render(request, template, {**context, "refusal": spoken_refusal(refusal)}, status=refusal.status)


@client_page()
def calendar(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The visit as a file for a calendar."""
    visit = my_visit(me(request), public_id)
    answer = HttpResponse(visit_file(visit, timezone.now()), content_type="text/calendar; charset=utf-8; method=PUBLISH")
    answer["Content-Disposition"] = 'attachment; filename="appointment.ics"'
    return answer
