"""Book a visit, and tie it to the look it answers when there is one."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import recalls
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, VisitType
from clinic.people.models import Client, Staff, User
from clinic.people.rules import zones


def book_for_recall(
    *, by: User, client: Client, visit_type: VisitType, clinician: Staff, start: datetime, now: datetime, note: str = ""
) -> Appointment:
    """The first due of the client's looks that this visit answers is booked with it; without one it is a plain visit.

    Refusals: those of `book_visit`, and of booking a reassessment.
    """
    planner, day = recalls.planner(), zones.day_in(start, client.site.zone)
    answered = next((each for each in recalls.of_client(by, client) if each.fits(visit_type, day)), None)
    if planner is not None and answered is not None:
        return planner.book(
            by=by, recall=answered, visit_type=visit_type, clinician=clinician, start=start, now=now, note=note
        )
    return book_visit(
        by=by, client=client, visit_type=visit_type, clinician=clinician, start=start, now=now, note=note
    )
