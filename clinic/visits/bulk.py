"""Book several reassessments at once: each within its window with the best opening, shown before anything is booked."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking.queries import bookable_clinician
from clinic.people.access import me, page
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits import queries
from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.models import Reassessment
from clinic.visits.openings import Offer, offers_to_choose
from clinic.visits.vocab import ReassessmentReason, ReassessmentStatus
from clinic.visits.wording import time_words

MOST = 25          # a page of the caseload
APART = timedelta(minutes=60)   # between two proposals with one clinician: no review takes longer, so that both fit


@page(Role.FRONT_DESK, Role.CLINICIAN, methods=("GET", "POST"))
def book_several(request: HttpRequest) -> HttpResponse:
    """GET proposes, and writes nothing; POST books the ones that are ticked, each by itself, and says which could not be."""
    now, user = timezone.now(), me(request)
    if request.method == "POST":
        for choice in request.POST.getlist("choice")[:MOST]:
            book_choice(request, user, choice, now)
        return redirect("visits:reassessments")
    rows = [queries.reassessment_for(user, _uuid(key)) for key in dict.fromkeys(request.GET.getlist("look")[:MOST])]
    lines = [
        {"row": row, "client": row.episode.client, "reason": ReassessmentReason(row.reason).label, "offer": offer}
        for row, offer in _proposed(rows, now)
    ]
    context = {"lines": lines, "found": sum(line["offer"] is not None for line in lines)}
    return render(request, "visits/book_several.html", context)


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise NotThere from None


def _proposed(rows: list[Reassessment], now: datetime) -> list[tuple[Reassessment, Offer | None]]:
    """The most urgent first gets its best opening; no two get times that are in each other's way."""
    taken: list[tuple[str, datetime]] = []
    found: list[tuple[Reassessment, Offer | None]] = []
    for row in sorted(rows, key=lambda each: (each.due, each.pk)):
        today = zones.day_in(now, row.episode.client.site.zone)
        open_ = row.status == ReassessmentStatus.OPEN and row.appointment_id is None
        offers = offers_to_choose(row, first_day=max(row.earliest, today), now=now, anyone=False) if open_ else []
        free = (offer for offer in offers if all(
            who != offer.clinician or abs(datetime.fromisoformat(offer.start) - start) >= APART for who, start in taken
        ))
        best = next(free, None)
        if best:
            taken.append((best.clinician, datetime.fromisoformat(best.start)))
        found.append((row, best))
    return found


def book_choice(request: HttpRequest, user: User, choice: str, now: datetime, *, held: bool = False) -> bool:
    """One choice is `reassessment clinician start`; what cannot be booked is said and stays to be booked. `held` sets it
    aside until the client says yes, and says only what went wrong."""
    key, _, rest = choice.partition(" ")
    who, _, start = rest.partition(" ")
    row = queries.reassessment_for(user, _uuid(key))
    client = row.episode.client
    try:
        at = datetime.fromisoformat(start)
        if at.tzinfo is None:
            raise ValueError(start)
        clinician = bookable_clinician(user, client.site, _uuid(who))
        visit = book_reassessment(by=user, reassessment=row, clinician=clinician, start=at, now=now, held=held)
    except ValueError:
        messages.error(request, f"{client.name}: choose one of the openings.")
    except NotThere:
        raise
    except Refusal as refused:
        messages.error(request, f"{client.name}: {refused.sentence}")
    else:
        if not held:
            messages.success(request, f"{client.name}: booked for {time_words(visit.starts, visit.site.zone)}.")
        return True
    return False
