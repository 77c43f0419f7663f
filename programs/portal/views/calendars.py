"""The client's own calendar at a secret address: made, shown once, ended."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.booking.actions.end_feed import end_feed
from clinic.booking.actions.make_feed import make_feed
from clinic.booking.feeds import own_feed, own_feeds
from clinic.booking.views.calendars import address_of
from clinic.booking.vocab import FeedKind
from clinic.people.access import me
from clinic.people.paging import page_of
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from programs.portal.views.client_page import client_page
from programs.portal.wording import spoken_refusal


@client_page(("GET", "POST"))
def calendars(request: HttpRequest) -> HttpResponse:
    """One's own addresses; a new one stands in the answer to its making only."""
    address, refusal = "", None
    if request.method == "POST":
        try:
            _feed, secret = make_feed(by=me(request), kind=FeedKind.CLIENT, now=timezone.now())
        except Refusal as refused:
            refusal = spoken_refusal(refused)
        else:
            address = address_of(secret)
    context = {
        "client": own_client(me(request)), "address": address, "refusal": refusal,
        "page": page_of(own_feeds(me(request)), request, 10),
    }
    return render(request, "portal/calendars.html", context, status=409 if refusal else 200)


@client_page(("POST",))
def end(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """End one of one's own."""
    end_feed(by=me(request), feed=own_feed(me(request), public_id), now=timezone.now())
    messages.success(request, _("It has ended. Its next try is refused."))
    return redirect("portal:calendars")
