"""Say yes to a time that is held, with or without an offer behind it."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.answer_offer import answer_offer
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.models import Appointment, Offer
from clinic.booking.vocab import AppointmentStatus, OfferState
from clinic.people.models import User


def confirm_visit(*, by: User, appointment: Appointment, now: datetime) -> Appointment:
    """`pending` becomes `booked`. Refusals: `offer_over` (409) when an offer has run out, and those of `mark_visit`."""
    offer = Offer.objects.filter(visit=appointment).first()
    if offer is not None and offer.state != OfferState.ACCEPTED:
        answered = answer_offer(by=by, offer=offer, yes=True, now=now)
        return answered.visit or appointment
    return mark_visit(by=by, appointment=appointment, status=AppointmentStatus.BOOKED, now=now)
