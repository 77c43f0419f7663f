"""A client cancels a visit of theirs."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.answer_offer import answer_offer
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.models import Appointment
from clinic.booking.vocab import CancelReason
from clinic.booking.waiting import open_offer_of
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from programs.portal.queries.visits import check_notice


def cancel_own_visit(*, by: User, appointment: Appointment, now: datetime) -> Appointment:
    """Cancel it before it begins; a second time changes nothing.

    Refusals: `begun` (409) once it has begun, `inside_notice` (409) nearer than the practice allows: then only the desk can;
    what `cancel_visit` refuses.
    """
    if appointment.client.user_id != by.pk:
        raise NotThere
    if appointment.starts <= now:
        raise Refusal("begun", "This visit has already begun. Ring us, and we put it right together.", status=409)
    check_notice(appointment, now)
    offer = open_offer_of(appointment)
    if offer is not None:   # a no to an hour that is only held: the next in turn gets it
        return answer_offer(by=by, offer=offer, yes=False, now=now).visit or appointment
    return cancel_visit(by=by, appointment=appointment, reason=CancelReason.CLIENT, now=now)
