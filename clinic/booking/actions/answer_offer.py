"""Say yes or no to an hour that is held."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import claiming, turns
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.models import Appointment, Offer
from clinic.booking.vocab import AppointmentStatus, OfferState, WaitState
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def answer_offer(*, by: User, offer: Offer, yes: bool, now: datetime) -> Offer:
    """Yes books the visit and ends the queue: the first yes wins. No gives the hour to the next in turn.

    The same answer again changes nothing. Refusal `offer_over` (409) once it is no longer held, with openings=.
    """
    fresh = turns.locked_offer(offer)
    if fresh.state == (OfferState.ACCEPTED if yes else OfferState.DECLINED):
        return fresh
    visit = fresh.visit
    if fresh.state != OfferState.OPEN or visit is None or fresh.expires is None or fresh.expires <= now:
        raise _over(fresh, now)
    if not yes:
        turns.give_back(fresh, OfferState.DECLINED, by=by, now=now)
        turns.open_next(fresh.freed, by=by, now=now)
        return fresh
    # a new version, so that what is planned for the client is tied to it as to any visit put into the book
    Appointment.objects.filter(pk=visit.pk).update(version=visit.version + 1)
    fresh.visit = mark_visit(by=by, appointment=visit, status=AppointmentStatus.BOOKED, now=now)
    fresh.state = OfferState.ACCEPTED
    fresh.save(update_fields=["state"])
    Offer.objects.filter(freed=fresh.freed, state=OfferState.QUEUED).update(state=OfferState.WITHDRAWN)
    if fresh.entry is not None:
        fresh.entry.state = WaitState.BOOKED
        fresh.entry.save(update_fields=["state"])
    audit.record(
        by=by, verb="accept_offer", kind="offer", public_id=fresh.public_id, at=now, client=fresh.client,
        appointment=str(visit.public_id),
    )
    return fresh


def _over(offer: Offer, now: datetime) -> Refusal:
    freed = offer.freed
    asked = claiming.Asked(freed.site, offer.visit_type, freed.clinician, offer.client, freed.starts, now)
    return Refusal(
        "offer_over", "This time is no longer held for you.", status=409, openings=claiming.offers(asked),
        state=offer.state,
    )
