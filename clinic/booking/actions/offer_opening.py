"""Offer a freed hour to clients, one after another."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from clinic.booking import turns
from clinic.booking.models import Appointment, Offer
from clinic.booking.queries import locked
from clinic.booking.vocab import OfferState
from clinic.booking.waiting import Match, is_free_again
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction

SHORTEST, LONGEST = 5, 24 * 60   # minutes for an answer


@in_one_transaction
def offer_opening(
    *, by: User, freed: Appointment, chosen: Sequence[Match], minutes: int, now: datetime
) -> Offer | None:
    """Queue the clients behind whoever is asked already, and hold the hour for the first of them.

    Returns the offer that is open then; None when the hour suits none of them any more. Refusals: `not_free` (409)
    when it has not been given back or begins within the hour; `invalid` (400) for nobody or a time out of bounds.
    """
    if not chosen or not SHORTEST <= minutes <= LONGEST:
        sentence = "Choose somebody to ask." if not chosen else "Give between five minutes and a day for an answer."
        raise Refusal("invalid", sentence, status=400, fields={"chosen" if not chosen else "minutes": sentence})
    fresh = locked(freed)
    if not is_free_again(fresh, now):
        raise Refusal("not_free", "This hour cannot be offered: it is taken, or it begins within the hour.", status=409)
    there = list(Offer.objects.filter(freed=fresh))
    if any(offer.state == OfferState.ACCEPTED for offer in there):
        raise Refusal("not_free", "Somebody has said yes to this hour already.", status=409)
    asked = {offer.client_id for offer in there}
    for number, each in enumerate((match for match in chosen if match.client.pk not in asked), len(there)):
        recall = each.recall
        Offer.objects.create(
            freed=fresh, client=each.client, visit_type=each.visit_type, entry=each.entry, position=number,
            due_earliest=recall.earliest if recall else None, due_latest=recall.latest if recall else None,
            episode=recall.episode if recall else None, minutes=minutes, at=now, by=by,
        )
    audit.record(
        by=by, verb="offer_opening", kind="appointment", public_id=fresh.public_id, at=now, client=None, asked=len(chosen)
    )
    waiting = next((offer for offer in there if offer.state == OfferState.OPEN), None)
    return waiting or turns.open_next(fresh, by=by, now=now)
