"""Pages of a series: its dates before they are booked, and booking them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking import queries
from clinic.booking.actions.book_series import book_series
from clinic.booking.forms import SeriesForm
from clinic.booking.rules.asking import Asked
from clinic.booking.series_preview import Board, Planned, plan
from clinic.booking.views.day import day_url
from clinic.booking.wording import planned_in_words
from clinic.people.access import STAFF, me, page
from clinic.people.queries import client_for, open_episode
from clinic.people.refusal import NotThere, Refusal

USUAL_WEEKS = 4
DAYTIME = (time(7), time(20))


@dataclass(frozen=True)
class Preview:
    """The dates of a series, each with its words, and what is sent back to book them."""

    client: Any
    kind: Any
    clinician: Any
    at: time
    lines: list[tuple[Planned, str]]

    @property
    def good(self) -> int:
        return sum(planned.problem is None for planned, _ in self.lines)

    @property
    def all_good(self) -> bool:
        return self.good == len(self.lines)


def preview_asked(request: HttpRequest, client: Any, kind: Any, asked: Asked, today: date) -> Preview | None:
    """The series that plain words ask for, with the clinician named, or their own, or the first one there."""
    rhythm = asked.rhythm
    if rhythm is None:
        return None
    mine = list(queries.bookable_clinicians(me(request), client.site))
    episode = open_episode(client)
    order = [asked.clinician, str(episode.lead.public_id) if episode else None]
    found = next((person for key in order for person in mine if str(person.public_id) == key), mine[0] if mine else None)
    if found is None:
        return None
    first, weeks = max(asked.first or today, today), rhythm.weeks or USUAL_WEEKS
    board = Board(
        client=client, site=client.site, visit_type=kind, clinician=found, first=first,
        last=first + timedelta(weeks=weeks), now=timezone.now(),
    )
    dates = plan(
        board, first=first, weekdays=asked.weekdays, per_week=rhythm.per_week, weeks=weeks, every=rhythm.every,
        hours=asked.hours or DAYTIME,
    )
    return _preview(client, kind, found, dates)


def _preview(client: Any, kind: Any, clinician: Any, dates: list[Planned]) -> Preview:
    lines = [(each, planned_in_words(each, clinician.name)) for each in dates]
    return Preview(client, kind, clinician, dates[0].at, lines)


@page(*STAFF, methods=("POST",))
def series(request: HttpRequest) -> HttpResponse:
    """Book the dates sent: `choice` all, or good for only those that can be. Refused, the dates are shown anew."""
    try:
        client = client_for(me(request), UUID(request.POST.get("client", "")))
        clinician = queries.bookable_clinician(me(request), client.site, UUID(request.POST.get("clinician", "")))
    except ValueError as error:
        raise NotThere from error
    kind, form = queries.visit_type(request.POST.get("visit_type", "")), SeriesForm(request.POST)
    if not form.is_valid():
        raise NotThere   # the fields are hidden: nobody typed them
    days, at, now = form.cleaned_data["days"], form.cleaned_data["at"], timezone.now()
    try:
        made, left_out = book_series(
            by=me(request), client=client, visit_type=kind, clinician=clinician, days=days, at=at,
            only_good=form.cleaned_data["choice"] == "good", now=now,
        )
    except Refusal as refusal:
        board = Board(
            client=client, site=client.site, visit_type=kind, clinician=clinician, first=min(days), last=max(days), now=now
        )
        shown = _preview(client, kind, clinician, [board.look(day, at) for day in sorted(days)])
        return render(request, "booking/series.html", {"series": shown, "refusal": refusal}, status=refusal.status)
    first = queries.visits_in(made)[0]
    words = f"Booked: {len(days) - len(left_out)} visits of {client.name}"
    left = "1 date was left out" if len(left_out) == 1 else f"{len(left_out)} dates were left out"
    messages.success(request, f"{words}; {left}." if left_out else f"{words}.")
    return redirect(day_url(first))
