"""Pages of the waitlist, and of offering a freed hour to those it suits."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking import queries, waiting, wording
from clinic.booking.actions.answer_offer import answer_offer
from clinic.booking.actions.join_waitlist import join_waitlist
from clinic.booking.actions.leave_waitlist import leave_waitlist
from clinic.booking.actions.offer_opening import offer_opening
from clinic.booking.actions.withdraw_offers import withdraw_offers
from clinic.booking.forms import WaitlistForm
from clinic.booking.views.day import day_url
from clinic.people.access import STAFF, me, page
from clinic.people.paging import page_of
from clinic.people.queries import client_for
from clinic.people.refusal import NotThere, Refusal

PRESELECTED = 3
USUAL_MINUTES = 120
TIMES = ((30, "half an hour"), (60, "an hour"), (120, "two hours"), (240, "four hours"), (1440, "a day"))


@page(*STAFF)
def waitlist(request: HttpRequest) -> HttpResponse:
    """Who waits, the most urgent and longest first."""
    rows = page_of(waiting.waitlist_for(me(request)), request)
    return render(request, "booking/waitlist.html", {
        "page": rows, "lines": [(row, wording.wishes_in_words(row)) for row in rows],
    })


@page(*STAFF, methods=("GET", "POST"))
def join(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Put a client on the waitlist."""
    client = client_for(me(request), public_id)
    form = WaitlistForm(request.POST if request.method == "POST" else None, user=me(request), site=client.site)
    if request.method == "POST" and form.is_valid():
        asked = form.cleaned_data
        who = asked["clinician"]
        try:
            join_waitlist(
                by=me(request), client=client, visit_type=queries.visit_type(asked["visit_type"]),
                priority=int(asked["priority"]), weekdays=[int(day) for day in asked["weekdays"]],
                earliest=asked["earliest"], latest=asked["latest"], until=asked["until"], now=timezone.now(),
                clinician=queries.bookable_clinician(me(request), client.site, who) if who else None,
            )
        except NotThere:
            raise
        except Refusal as refusal:
            for name, sentence in (refusal.fields or {"": refusal.sentence}).items():
                form.add_error(name or None, sentence)
        else:
            messages.success(request, f"{client.name} is on the waitlist.")
            return redirect("booking:waitlist")
    status = 400 if form.is_bound else 200
    return render(request, "booking/join_waitlist.html", {"client": client, "form": form}, status=status)


@page(*STAFF, methods=("POST",))
def leave(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take a client off the waitlist."""
    entry = waiting.waitlist_entry_for(me(request), public_id)
    if leave_waitlist(by=me(request), entry=entry, now=timezone.now()):
        messages.success(request, f"{entry.client.name} is off the waitlist.")
    return redirect("booking:waitlist")


@page(*STAFF, methods=("GET", "POST"))
def offer(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """A freed hour: whom it suits. POST `chosen` asks them in turn; `yes`, `no` notes an answer; `stop` ends it."""
    freed, now = queries.appointment_for(me(request), public_id), timezone.now()
    if request.method != "POST":
        return _offer_page(request, freed, None)
    try:
        words = _do(request, freed)
    except NotThere:
        raise
    except Refusal as refusal:
        return _offer_page(request, queries.appointment_for(me(request), public_id), refusal)
    messages.success(request, words)
    still = waiting.is_free_again(freed, now)
    return redirect("booking:offer", public_id=public_id) if still else redirect(day_url(freed))


def _do(request: HttpRequest, freed: Any) -> str:
    """Do what was pressed, and say what happened."""
    now = timezone.now()
    if "stop" in request.POST:
        ended = withdraw_offers(by=me(request), freed=freed, now=now)
        return f"Stopped. {ended} offers were withdrawn." if ended != 1 else "Stopped. One offer was withdrawn."
    answered = request.POST.get("yes") or request.POST.get("no")
    if answered:
        try:
            row = waiting.offer_for(me(request), UUID(answered))
        except ValueError as error:
            raise NotThere from error
        done = answer_offer(by=me(request), offer=row, yes="yes" in request.POST, now=now)
        return f"{done.client.name} {'has the hour' if 'yes' in request.POST else 'said no'}."
    chosen = request.POST.getlist("chosen")
    minutes = request.POST.get("minutes", "")
    found = [each for each in waiting.matches(me(request), freed, now) if each.key in chosen]
    opened = offer_opening(
        by=me(request), freed=freed, chosen=found, now=now, minutes=int(minutes) if minutes.isdecimal() else 0
    )
    if opened is None:
        return "Nobody of them can have it any more."
    return f"The hour is held for {opened.client.name}, who is asked now."


def _offer_page(request: HttpRequest, freed: Any, refusal: Refusal | None) -> HttpResponse:
    now = timezone.now()
    queue = waiting.queue_of(freed)
    free = waiting.is_free_again(freed, now)
    found = waiting.matches(me(request), freed, now) if free else []
    return render(
        request, "booking/offer.html",
        {
            "visit": freed, "refusal": refusal, "free": free, "times": TIMES, "usual": USUAL_MINUTES,
            "matches": [
                (each, wording.match_in_words(each), number < PRESELECTED) for number, each in enumerate(found)
            ],
            "queue": [(each, wording.OFFER_SHAPES[each.state]) for each in queue],
            "taken": any(each.state == "accepted" for each in queue),
            "running": any(each.state in ("open", "queued") for each in queue), "day_url": day_url(freed),
        },
        status=refusal.status if refusal else 200,
    )
