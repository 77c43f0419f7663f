"""A client books a visit of a kind that the clinic lets clients book."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.book_for_recall import book_for_recall
from clinic.booking.claiming import OFFERED, as_values
from clinic.booking.models import Appointment, VisitType
from clinic.people.models import User
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from programs.portal.queries.visits import coming_visits, openings_to_book

MOST_AHEAD = 4   # visits ahead, after which the clinic is asked (common practice, no source)


def book_own_visit(*, by: User, kind: VisitType, start: datetime, now: datetime) -> Appointment:
    """Book one of the openings that are shown to the client.

    Refusals (409): `ask_the_desk` for a kind that only the clinic books, `enough_ahead` with four visits ahead,
    `slot_taken` with openings= when the time is no opening any more; what booking refuses.
    """
    client = own_client(by)
    if not kind.clients_may_book:
        raise Refusal("ask_the_desk", "Only the clinic can book this kind of visit. Please ring us.", status=409)
    if coming_visits(by, now).count() >= MOST_AHEAD:
        raise Refusal("enough_ahead", "You have several visits ahead already. Ring us if you need more.", status=409)
    free = openings_to_book(by, kind, now, most=None)
    found = next((each for each in free if each.starts == start), None)
    if found is None:
        later = [each for each in free if each.starts > start] or free
        raise Refusal(
            "slot_taken", "This time is not free any more. Choose another one.", status=409,
            openings=as_values(later[:OFFERED]),
        )
    return book_for_recall(by=by, client=client, visit_type=kind, clinician=found.clinician, start=start, now=now)
