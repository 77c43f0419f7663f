"""A client moves a visit of theirs, with the same clinician."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.move_visit import move_visit
from clinic.booking.models import Appointment
from clinic.booking.waiting import open_offer_of
from clinic.people.models import Staff, User
from clinic.people.refusal import NotThere, Refusal
from programs.portal.queries.visits import check_notice, openings_to_move


def move_own_visit(*, by: User, appointment: Appointment, start: datetime, now: datetime) -> Appointment:
    """Move it to another opening before it begins.

    Refusals: `begun` (409), `inside_notice` (409) nearer than the practice allows,
    `answer_first` (409) for an hour that is only held,
    `ask_the_desk` (409) for a kind of visit that clients may not book; what `move_visit` refuses.
    """
    if appointment.client.user_id != by.pk:
        raise NotThere
    if appointment.starts <= now:
        raise Refusal("begun", "This visit has already begun. Ring us, and we put it right together.", status=409)
    check_notice(appointment, now)
    if not appointment.visit_type.clients_may_book:
        raise Refusal("ask_the_desk", "Only the clinic can move this kind of visit. Please ring us.", status=409)
    if open_offer_of(appointment) is not None:
        raise Refusal("answer_first", "Say yes or no to this time first.", status=409)
    return move_visit(by=by, appointment=appointment, start=start, now=now, clinician=_whose_group(appointment, start, now))


def _whose_group(appointment: Appointment, start: datetime, now: datetime) -> Staff | None:
    """Of a kind with places: who leads the group that meets then, the client's own clinician first."""
    if not appointment.visit_type.is_group:
        return None
    meeting = [each.clinician for each in openings_to_move(appointment, now, most=None) if each.starts == start]
    return next((who for who in meeting if who == appointment.clinician), meeting[0] if meeting else None)
