"""Move the visits of a series: this one, this and later ones, or all that are still to come."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from clinic.booking.actions.move_visit import move_visit
from clinic.booking.localtime import start_of
from clinic.booking.models import Appointment
from clinic.booking.queries import in_scope
from clinic.booking.rules.series import carried
from clinic.people.models import Staff, User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def move_series(
    *, by: User, appointment: Appointment, start: datetime, scope: str, now: datetime, clinician: Staff | None = None
) -> list[Appointment]:
    """Move each as many days on and to the same local time as this one. All or nothing.

    Refusals: `series_blocked` (409) naming the dates that cannot be; those of `move_visit` when it is one visit only.
    """
    visits = in_scope(appointment, scope, now)
    if len(visits) == 1:
        return [move_visit(by=by, appointment=visits[0], start=start, clinician=clinician, now=now)]
    moved: list[Appointment] = []
    blocked: list[dict[str, Any]] = []
    # away from one another: later ones first when all go later, so that no visit runs into the next of its own series
    for visit in sorted(visits, key=lambda each: each.starts, reverse=start > appointment.starts):
        day, at = carried(appointment.starts, start, visit.starts, visit.site.zone)
        try:
            begins = start_of(day, at, visit.site.zone)
            moved.append(move_visit(by=by, appointment=visit, start=begins, clinician=clinician, now=now))
        except Refusal as refusal:
            if refusal.status >= 500:
                raise
            blocked.append({
                "day": day.isoformat(), "code": refusal.code, "sentence": refusal.sentence,
                "openings": refusal.numbers.get("openings", []),
            })
    if blocked:
        sentence = f"{len(blocked)} of {len(visits)} visits cannot be moved so. Nothing was moved."
        openings: list[Any] = next((each["openings"] for each in blocked if each["openings"]), [])
        raise Refusal("series_blocked", sentence, status=409, blocked=blocked, openings=openings)
    return moved
