"""Book a series of visits: all of it, or only the dates that are good."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime, time
from typing import Any

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.localtime import start_of
from clinic.booking.models import Appointment, Series, VisitType
from clinic.booking.rules.series import MOST_VISITS
from clinic.booking.telling import tell_client
from clinic.people import audit
from clinic.people.models import Client, Staff, User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def book_series(
    *, by: User, client: Client, visit_type: VisitType, clinician: Staff, days: Sequence[date], at: time, only_good: bool,
    now: datetime,
) -> tuple[Series, list[dict[str, Any]]]:
    """Book one visit on each local day at the same local time, and tell the client once. Returns what was left out.

    With `only_good` a date that cannot be is left out; without, `series_blocked` (409) names all such dates and nothing
    is saved. `invalid` (400) for no date, one twice, or more than 60.
    """
    if not days or len(days) > MOST_VISITS or len(set(days)) != len(days):
        sentence = f"A series has 1 to {MOST_VISITS} dates, each once."
        raise Refusal("invalid", sentence, status=400, fields={"days": sentence})
    series = Series.objects.create(client=client, visit_type=visit_type, clinician=clinician, at=now, by=by)
    booked: list[Appointment] = []
    blocked: list[dict[str, Any]] = []
    for day in sorted(days):
        try:
            booked.append(book_visit(
                by=by, client=client, visit_type=visit_type, clinician=clinician, now=now, remind=False, series=series,
                start=start_of(day, at, client.site.zone),
            ))
        except Refusal as refusal:
            if refusal.status >= 500 or refusal.code == "client_archived":
                raise
            blocked.append({
                "day": day.isoformat(), "code": refusal.code, "sentence": refusal.sentence,
                "openings": refusal.numbers.get("openings", []), "choices": refusal.numbers.get("choices", []),
            })
    if not booked or (blocked and not only_good):
        sentence = f"{len(blocked)} of {len(days)} dates cannot be booked. Nothing was saved."
        openings: list[Any] = next((each["openings"] for each in blocked if each["openings"]), [])
        raise Refusal("series_blocked", sentence, status=409, blocked=blocked, openings=openings)
    audit.record(
        by=by, verb="book_series", kind="series", public_id=series.public_id, at=now, client=client, visits=len(booked),
        left_out=len(blocked),
    )
    tell_client("visits_booked", booked[0], by=by, now=now)
    return series, blocked
