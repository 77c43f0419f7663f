"""Calendars at secret addresses: the fetch itself, and the page on which staff make and end theirs."""

from __future__ import annotations

import hashlib
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.cache import get_conditional_response
from django.views.decorators.http import require_safe

from clinic.booking.actions.end_feed import end_feed
from clinic.booking.actions.make_feed import make_feed
from clinic.booking.actions.use_feed import use_feed
from clinic.booking.feeds import kinds_for, own_feed, own_feeds, rooms_for
from clinic.booking.forms_feeds import FeedForm
from clinic.booking.vocab import FeedKind
from clinic.people.access import STAFF, me, page
from clinic.people.forms import put_refusal
from clinic.people.paging import page_of
from clinic.people.refusal import NotThere, Refusal


def address_of(secret: str) -> str:
    """The whole address to give to a calendar program."""
    return settings.PUBLIC_URL + reverse("booking:feed", args=[secret])


@require_safe
def feed(request: HttpRequest, secret: str) -> HttpResponse:
    """The calendar of that secret, or 304 when the program has it already. The address is the proof; nobody signs in."""
    try:
        body = use_feed(secret=secret, now=timezone.now())
    except NotThere as gone:
        raise Http404 from gone
    answer = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    answer["ETag"] = f'"{hashlib.sha256(body).hexdigest()[:32]}"'
    # kept by the program that fetches, never by one in between; asked about again each time
    answer["Cache-Control"] = "private, no-cache"
    answer["Referrer-Policy"] = "no-referrer"
    answer["X-Robots-Tag"] = "noindex"
    answer["Content-Disposition"] = 'inline; filename="visits.ics"'
    return get_conditional_response(request, etag=answer["ETag"], response=answer) or answer


feed.open_methods = {"GET"}  # type: ignore[attr-defined]


@page(*STAFF, methods=("GET", "POST"))
def calendars(request: HttpRequest) -> HttpResponse:
    """One's own calendars; the address of a new one stands in the answer to its making only."""
    user, address, refusal = me(request), "", None
    rooms = {str(room.pk): room for room in rooms_for(user)}
    choices = [(key, f"{room.site.name}, {room.name}") for key, room in rooms.items()]
    own = FeedKind.CLINICIAN in kinds_for(user)
    form = FeedForm(request.POST if request.method == "POST" else None, rooms=choices, own=own)
    if request.method == "POST" and form.is_valid():
        room = rooms.get(form.cleaned_data["of"])
        try:
            _, secret = make_feed(
                by=user, kind=FeedKind.ROOM if room else FeedKind.CLINICIAN, room=room, now=timezone.now()
            )
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            address, form = address_of(secret), FeedForm(rooms=choices, own=own)
    status = refusal.status if refusal else 400 if form.errors else 200
    context = {"form": form, "refusal": refusal, "address": address, "page": page_of(own_feeds(user), request, 20)}
    return render(request, "booking/calendars.html", context, status=status)


@page(*STAFF, methods=("POST",))
def end(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """End one of one's own."""
    end_feed(by=me(request), feed=own_feed(me(request), public_id), now=timezone.now())
    messages.success(request, "It has ended. Its next fetch finds nothing.")
    return redirect("booking:calendars")
