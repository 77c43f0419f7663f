"""Stop offering a freed hour."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import turns
from clinic.booking.models import Appointment, Offer
from clinic.booking.vocab import OfferState
from clinic.people import audit
from clinic.people.models import User
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def withdraw_offers(*, by: User, freed: Appointment, now: datetime) -> int:
    """Withdraw the open offer and everybody queued behind it. Returns how many; none changes nothing."""
    ended = Offer.objects.filter(freed=freed, state=OfferState.QUEUED).update(state=OfferState.WITHDRAWN)
    for seen in Offer.objects.filter(freed=freed, state=OfferState.OPEN):
        offer = turns.locked_offer(seen)
        if offer.state == OfferState.OPEN:
            turns.give_back(offer, OfferState.WITHDRAWN, by=by, now=now)
            ended += 1
    if ended:
        audit.record(
            by=by, verb="withdraw_offers", kind="appointment", public_id=freed.public_id, at=now, client=None, ended=ended
        )
    return ended
