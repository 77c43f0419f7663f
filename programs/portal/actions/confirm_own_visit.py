"""A client says yes to a time that the clinic holds for them."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.confirm_visit import confirm_visit
from clinic.booking.models import Appointment
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal


def confirm_own_visit(*, by: User, appointment: Appointment, now: datetime) -> Appointment:
    """`pending` becomes `booked`; a second yes changes nothing.

    An hour offered to several is theirs with the first yes.

    Refusals: `begun` (409); `offer_over` (409) when it ran out; `not_waiting` (409) when it is neither held nor booked.
    """
    if appointment.client.user_id != by.pk:
        raise NotThere
    if appointment.status == AppointmentStatus.BOOKED:
        return appointment
    if appointment.starts <= now:
        raise Refusal("begun", "This visit has already begun. Ring us, and we put it right together.", status=409)
    if appointment.status != AppointmentStatus.PENDING:
        raise Refusal("not_waiting", "This visit does not wait for an answer any more.", status=409)
    return confirm_visit(by=by, appointment=appointment, now=now)
