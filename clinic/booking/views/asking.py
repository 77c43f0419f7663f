"""The one box of the desk: who it is, and what is wanted, in plain words; nothing is booked by asking."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import dateformat, timezone

from clinic.booking import queries, recalls
from clinic.booking.forms import AskForm
from clinic.booking.offering import Offer, offer_of
from clinic.booking.rules.asking import Asked, read
from clinic.booking.views.series import preview_asked
from clinic.booking.wording import asked_in_words, problem_in_words
from clinic.people.access import me
from clinic.people.paging import page_of
from clinic.people.queries import client_for, search_clients, sites_for, words_of_clients
from clinic.people.refusal import NotThere
from clinic.people.rules import zones

SHOWN = 9              # openings, so that each has a digit of its own
USUAL_DAYS = 28        # searched when no day was said
LONGEST = 90           # days searched at once
CLIENTS = 10


@dataclass(frozen=True)
class Wanted:
    """A client, the kind of visit and the days: enough to look for openings."""

    client: Any
    kind: Any
    first: date
    last: date
    recall: recalls.Recall | None


def ask(request: HttpRequest) -> HttpResponse:
    """GET: the words that can be used. POST `text` (and `client` once chosen): what was understood, and the openings."""
    form = AskForm(request.POST if request.method == "POST" else None)
    site = sites_for(me(request)).first()
    if site is None:
        raise NotThere
    if request.method != "POST" or not form.is_valid():
        return render(request, "booking/ask.html", {"form": form, "kinds": queries.visit_types()})
    today = zones.day_in(timezone.now(), site.zone)
    asked = read(
        form.cleaned_data["text"], kinds=[(kind.code, kind.name) for kind in queries.visit_types()], today=today,
        clinicians=[(str(person.public_id), person.name) for person in queries.bookable_clinicians(me(request), site)],
    )
    known = words_of_clients(me(request), asked.names)
    unknown = [word for word in asked.names if word not in known]
    found = page_of(search_clients(me(request), " ".join(n for n in asked.names if n in known)), request, CLIENTS)
    client = _client(request, found) if known or request.POST.get("client") else None
    wanted = _wanted(request, client, asked, today) if client else None
    series, trouble = None, []
    try:
        series = preview_asked(request, client, wanted.kind, asked, today) if wanted else None
    except ValueError:
        trouble = ["A series lasts 1 to 26 weeks and has at most 60 visits."]
    return render(request, "booking/ask.html", {
        "form": form, "asked": asked, "found": found if known else None, "client": client, "unknown": unknown,
        "problems": [*(problem_in_words(problem) for problem in asked.problems), *trouble],
        "sure": not unknown and not asked.problems, "wanted": wanted, "series": series, "kinds": queries.visit_types(),
        "understood": _understood(request, asked, wanted, site),
        "offers": _offers(request, asked, wanted) if wanted and not asked.rhythm else [],
        "clinician": asked.clinician or "",
    })


def _client(request: HttpRequest, found: Any) -> Any:
    """The client chosen, or the only one who fits; None while that is open."""
    given = request.POST.get("client", "")
    if given:
        try:
            return client_for(me(request), UUID(given))
        except ValueError as error:
            raise NotThere from error
    return found.object_list[0] if found.paginator.count == 1 else None


def _wanted(request: HttpRequest, client: Any, asked: Asked, today: date) -> Wanted | None:
    """What to look for. A kind that was not said is the look that is due, else that of the last visit."""
    waiting = next(iter(recalls.of_client(me(request), client)), None)
    kinds = {kind.code: kind for kind in queries.visit_types()}
    until = asked.last or today + timedelta(days=USUAL_DAYS)
    kind = kinds.get(asked.kind or "")
    if kind is None and waiting and waiting.earliest <= until:
        kind = next((each for each in kinds.values() if each.is_reassessment), None)
    kind = kind or queries.usual_kind(client)
    if kind is None:
        return None
    recall = waiting if waiting and kind.is_reassessment else None
    first = max(asked.first or (recall.earliest if recall and not asked.last else today), today)
    last = asked.last or max(first + timedelta(days=USUAL_DAYS), recall.latest if recall else first)
    return Wanted(client, kind, first, min(max(last, first), first + timedelta(days=LONGEST)), recall)


def _offers(request: HttpRequest, asked: Asked, wanted: Wanted) -> list[Offer]:
    site = wanted.client.site
    mine = list(queries.bookable_clinicians(me(request), site))
    chosen = next((person for person in mine if str(person.public_id) == asked.clinician), None)
    found = queries.openings(
        site=site, visit_type=wanted.kind, first_day=wanted.first, last_day=wanted.last, now=timezone.now(),
        clinician=chosen or (mine[0] if len(mine) == 1 else None), client=wanted.client, limit=SHOWN,
        due_window=(wanted.recall.earliest, wanted.recall.latest) if wanted.recall else None,
        hours=asked.hours, weekdays=asked.weekdays,
    )
    return [offer_of(opening, site.zone) for opening in found]


def _understood(request: HttpRequest, asked: Asked, wanted: Wanted | None, site: Any) -> list[tuple[str, str]]:
    """(what, words) for each thing that was understood, and what was filled in because it was not said."""
    people = {str(person.public_id): person.name for person in queries.bookable_clinicians(me(request), site)}
    kinds = {kind.code: kind.name for kind in queries.visit_types()}
    facts = asked_in_words(asked, kinds, people)
    if wanted and not asked.kind:
        why = "it is due" if wanted.recall else "not said, so as usual"
        facts.insert(0, ("Kind of visit", f"{wanted.kind.name} ({why})"))
    if wanted and wanted.recall:
        low, high = (dateformat.format(day, "j F") for day in (wanted.recall.earliest, wanted.recall.latest))
        facts.append(("Due window", f"{low} to {high}"))
    return facts
