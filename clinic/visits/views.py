"""Pages of visits: the list of reassessments, booking one, recording a visit, measures over time."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking.queries import bookable_clinician
from clinic.people.access import STAFF, me, page
from clinic.people.paging import page_of
from clinic.people.queries import episode_for, sites_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits import entry, queries, usual, wording
from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.actions.record_visit import record_visit
from clinic.visits.openings import offers_for, offers_to_choose
from clinic.visits.vocab import ReassessmentReason, ReassessmentStatus

FILTERS = {
    "overdue": "Overdue", "due": "Due", "due_soon": "Due soon", "not_yet": "Later", "booked": "Booked", "done": "Done",
    "all": "All open",
}
MAY_BOOK = (Role.FRONT_DESK, Role.CLINICIAN)
RECORDABLE = 12       # visits without a record that the form offers
POINTS_SHOWN = 12     # values of one measure and side on its card, the newest first


def _today(request: HttpRequest, now: datetime) -> date:
    site = sites_for(me(request)).first()
    return zones.day_in(now, site.zone) if site else now.date()


def _uuid(text: str) -> UUID:
    try:
        return UUID(text)
    except ValueError:
        raise NotThere from None


@page(*STAFF)
def reassessments(request: HttpRequest) -> HttpResponse:
    """Who should be looked at again, the most overdue first, with openings ready to book."""
    now = timezone.now()
    today = _today(request, now)
    state = request.GET.get("state", "overdue")
    state = state if state in FILTERS else "overdue"
    rows = page_of(queries.overdue_list(me(request), today, None if state == "all" else state), request, 15)
    may_book = me(request).role in MAY_BOOK
    offers = offers_for(list(rows), today, now) if may_book else {}
    counts = queries.state_counts(me(request), today)
    context = {
        "page": rows,
        "lines": [
            {**_line(row, today), "offers": offers.get(row.pk, []), "may_open": _may_open(request, row)} for row in rows
        ],
        "filters": [(code, label, counts[code], code == state) for code, label in FILTERS.items()],
        "heading": FILTERS[state],
        "may_book": may_book,
    }
    return render(request, "visits/reassessments.html", context)


def _may_open(request: HttpRequest, row: Any) -> bool:
    """A clinician opens their own visits only."""
    return me(request).role != Role.CLINICIAN or (row.appointment and row.appointment.clinician.user_id == me(request).pk)


def _line(row: Any, today: date) -> dict[str, Any]:
    standing = queries.row_of(row, today)
    shape, word = wording.state_words(standing, row.episode.client.site.zone)
    if row.status == ReassessmentStatus.WITHDRAWN:
        shape, word = "silent", "withdrawn"
    visit = row.appointment
    return {
        "row": row, "standing": standing, "shape": shape, "word": word, "reason": ReassessmentReason(row.reason).label,
        "clinician": visit.clinician if visit else row.episode.lead, "client": row.episode.client,
        "open": row.status == ReassessmentStatus.OPEN and standing.state != "booked",
    }


@page(*MAY_BOOK, methods=("GET", "POST"))
def book(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Choose an opening for a reassessment, those inside its window first."""
    now = timezone.now()
    row = queries.reassessment_for(me(request), public_id)
    today = zones.day_in(now, row.episode.client.site.zone)
    refusal = None
    if request.method == "POST":
        try:
            visit = _book(request, row, now)
        except NotThere:
            raise
        except Refusal as refused:
            refusal = refused
        else:
            when = wording.time_words(visit.starts, visit.site.zone)
            messages.success(request, f"Booked for {when} with {visit.clinician.name}.")
            return redirect("visits:reassessments")
    anyone = request.GET.get("with") == "any" and me(request).role != Role.CLINICIAN
    first_day = _first_day(request.GET.get("from", ""), row, today)
    line = _line(row, today)
    best = offers_to_choose(row, first_day=first_day, now=now, anyone=anyone) if line["open"] else []
    offers = sorted(best, key=lambda offer: datetime.fromisoformat(offer.start))   # read as a calendar is
    context = {
        **line, "refusal": refusal, "anyone": anyone, "first_day": first_day, "today": today,
        "inside": [offer for offer in offers if offer.inside], "outside": [offer for offer in offers if not offer.inside],
        "may_choose": me(request).role != Role.CLINICIAN,
    }
    return render(request, "visits/book.html", context, status=refusal.status if refusal else 200)


def _book(request: HttpRequest, row: Any, now: datetime) -> Any:
    try:
        start = datetime.fromisoformat(request.POST.get("start", ""))
    except ValueError:
        start = None
    if start is None or start.tzinfo is None:
        raise Refusal("invalid", "Choose one of the openings.", status=400, fields={"start": "A start time is needed."})
    site = row.episode.client.site
    clinician = bookable_clinician(me(request), site, _uuid(request.POST.get("clinician", "")))
    return book_reassessment(by=me(request), reassessment=row, clinician=clinician, start=start, now=now)


def _first_day(text: str, row: Any, today: date) -> date:
    """The day asked for; else the first day of the window. Never before today, never more than a year ahead."""
    try:
        asked = date.fromisoformat(text)
    except ValueError:
        asked = row.earliest
    return min(max(asked, today), today + timedelta(days=366))


@page(Role.CLINICIAN, methods=("GET", "POST"))
def new(request: HttpRequest) -> HttpResponse:
    """Record a visit and what was measured."""
    now = timezone.now()
    episode = episode_for(me(request), _uuid(request.GET.get("episode") or request.POST.get("episode", "")))
    kinds = list(queries.measures())
    visits = {str(visit.public_id): visit for visit in queries.unrecorded_appointments(episode, now)[:RECORDABLE]}
    typed = {name: str(value) for name, value in request.POST.items()}
    refusal, errors = None, {}
    if request.method == "POST":
        try:
            _record(request, episode, visits, typed, kinds, now)
        except Refusal as refused:
            refusal, errors = refused, entry.errors_by_box(refused.fields)
        else:
            messages.success(request, "The visit is recorded.")
            return redirect("visits:measures", public_id=episode.public_id)
    zone = episode.client.site.zone
    context = {
        "episode": episode, "client": episode.client, "refusal": refusal, "note": typed.get("note", ""),
        "note_error": errors.get("note", ""), "chosen": typed.get("appointment", next(iter(visits), "")),
        "entries": entry.entries(kinds, typed, errors, queries.results_for(me(request), episode)),
        "visits": [
            (key, f"{wording.time_words(visit.starts, zone)}, {visit.visit_type.name}") for key, visit in visits.items()
        ],
    }
    return render(request, "visits/new.html", context, status=refusal.status if refusal else 200)


def _record(
    request: HttpRequest, episode: Any, visits: dict[str, Any], typed: dict[str, str], kinds: list[Any], now: datetime
) -> None:
    measured, errors = entry.read(typed, kinds)
    if errors:
        errors = {**errors, **entry.wrong(measured, errors)}   # name what else is wrong in the same go
    chosen = typed.get("appointment", "")
    if chosen and chosen not in visits:
        errors["appointment"] = "That visit is recorded already, or it is not one of this client's. Choose again."
    if errors:
        raise Refusal("invalid", "Some values cannot be used. Nothing was saved.", status=400, fields=errors)
    record_visit(
        by=me(request), episode=episode, note=typed.get("note", ""), now=now, results=measured,
        appointment=visits.get(chosen),
    )


@page(Role.CLINICIAN, Role.LEAD)
def measures(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Results of an episode over time, with what the change means and where its bounds are from."""
    episode = episode_for(me(request), public_id)
    series = queries.results_for(me(request), episode)
    alike = _alike(series)
    zone = zones.zone(episode.client.site.zone)
    rows = [
        {
            "measure": line.measure, "side": entry.SIDES[line.side],
            "latest": wording.amount(line.measure, line.points[-1].value),
            "points": [
                (point.at.astimezone(zone).date(), wording.amount(line.measure, point.value))
                for point in line.points[:-POINTS_SHOWN - 1:-1]
            ],
            "earlier": max(0, len(line.points) - POINTS_SHOWN),
            "change": wording.change_words(line, zone.key), "bounds": wording.bounds_words(line.measure),
            "sides": alike.get(line.measure.pk, "") if line.side == "right" else "",
            "reliable": usual.reliable_words(line.measure, line.change.difference) if line.change else "",
            "usual": usual.usual_words(
                line.measure, line.points[-1].value, episode.client.birth_date,
                line.points[-1].at.astimezone(zone).date(),
            ),
        }
        for line in series
    ]
    context = {
        "episode": episode, "client": episode.client, "rows": rows,
        "page": page_of(queries.visits_of(me(request), episode), request, 10),
        "may_record": me(request).role == Role.CLINICIAN,
    }
    return render(request, "visits/measures.html", context)


def _alike(series: list[queries.Series]) -> dict[int, str]:
    """How alike the sides are, in words, for each measure (by key) that has both."""
    percents = queries.symmetries(series)
    newest = {(line.measure.pk, line.side): line.points[-1].value for line in series}
    return {
        line.measure.pk: usual.sides_words(
            line.measure, newest[line.measure.pk, "left"], line.points[-1].value, percents[line.measure.pk]
        )
        for line in series if line.side == "right" and line.measure.pk in percents
    }
