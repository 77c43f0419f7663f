"""The page that places the reviews of twelve weeks, and sets the times aside that are ticked."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking.wording import WHY_NOT
from clinic.people.access import STAFF, me, page
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere
from clinic.visits.bulk import book_choice
from clinic.visits.review_plan import ReviewPlan, plan_reviews
from clinic.visits.views import MAY_BOOK
from clinic.visits.vocab import ReassessmentReason
from clinic.visits.wording import length_words, short_day, time_words

SHOWN = 60   # lines: those without a place first, then by day


@page(*STAFF, methods=("GET", "POST"))
def plan(request: HttpRequest) -> HttpResponse:
    """POST `do`: plan works a proposal out and shows it; book sets the times that are ticked aside, each by itself."""
    sites = list(sites_for(me(request)))
    if not sites:
        raise NotThere
    site = next((each for each in sites if each.name == request.POST.get("site")), sites[0])
    now, do = timezone.now(), request.POST.get("do", "")
    context: dict[str, Any] = {"sites": sites, "site": site, "may_book": me(request).role in MAY_BOOK}
    if do == "book":
        if not context["may_book"]:
            raise NotThere
        return _book(request, now)
    if do != "plan":
        return render(request, "visits/plan.html", context, status=400 if request.method == "POST" else 200)
    found = plan_reviews(me(request), site, now)
    if found is None:
        return render(request, "visits/plan.html", {**context, "none": True})
    shown = {
        "plan": found, "lines": _lines(found)[:SHOWN], "later": max(len(found.lines) - SHOWN, 0),
        "missing": _missing(found), "lacking": length_words(found.lacking),
    }
    return render(request, "visits/plan.html", {**context, **shown})


def _book(request: HttpRequest, now: datetime) -> HttpResponse:
    choices = request.POST.getlist("choice")[:SHOWN]
    done = sum(book_choice(request, me(request), choice, now, held=True) for choice in choices)
    if not choices:
        messages.error(request, "Tick at least one first.")
    elif done:
        words = f"{done} of {len(choices)} set aside; the clients are asked. Each is booked with their yes."
        messages.success(request, words)
    return redirect("visits:plan")


def _lines(plan: ReviewPlan) -> list[dict[str, Any]]:
    zone = plan.site.zone
    return [
        {
            "line": line, "client": line.row.episode.client, "reason": ReassessmentReason(line.row.reason).label,
            "words": time_words(line.starts, zone) if line.starts else "", "why_not": WHY_NOT.get(line.why_not, ""),
            "choice": f"{line.row.public_id} {line.clinician.public_id} {line.starts.isoformat()}" if line.starts else "",
        }
        for line in sorted(plan.lines, key=lambda each: (each.starts is not None, each.starts or each.row.due, each.row.pk))
    ]


def _missing(plan: ReviewPlan) -> list[str]:
    """A sentence for each clinician and week that has too little time."""
    return [
        f"{who.name}, week of {short_day(each.monday)}: {length_words(each.minutes)} more for "
        f"{each.reviews} review{'' if each.reviews == 1 else 's'}."
        for who, each in plan.missing
    ]
