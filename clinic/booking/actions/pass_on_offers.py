"""Give hours nobody answered for in time to the next in turn."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import turns
from clinic.booking.models import Offer
from clinic.booking.vocab import OfferState
from clinic.people.models import User
from clinic.people.retrying import in_one_transaction


def pass_on_offers(*, by: User, now: datetime) -> int:
    """End every offer whose time is over, each in its own transaction. Returns how many ended; a doubled tick is harmless."""
    due = Offer.objects.filter(state=OfferState.OPEN, expires__lte=now).order_by("expires", "pk")
    return sum(_pass_on(by, offer, now) for offer in list(due[:200]))


@in_one_transaction
def _pass_on(by: User, seen: Offer, now: datetime) -> bool:
    offer = turns.locked_offer(seen)
    if offer.state != OfferState.OPEN or offer.expires is None or offer.expires > now:
        return False
    turns.give_back(offer, OfferState.EXPIRED, by=by, now=now)
    turns.open_next(offer.freed, by=by, now=now)
    return True
