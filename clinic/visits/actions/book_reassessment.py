"""Book the visit that answers a reassessment."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, Room, VisitType
from clinic.booking.queries import visit_types
from clinic.people import audit
from clinic.people.models import Staff, User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction
from clinic.people.rules import zones
from clinic.visits.models import Reassessment
from clinic.visits.vocab import ReassessmentStatus


@in_one_transaction
def book_reassessment(
    *,
    by: User,
    reassessment: Reassessment,
    clinician: Staff,
    start: datetime,
    now: datetime,
    room: Room | None = None,
    visit_type: VisitType | None = None,
    note: str = "",
    held: bool = False,
) -> Appointment:
    """Book it and tie both together in one transaction. Without `visit_type` the first one meant for reassessments. `held`
    sets the hour aside until the client says yes.

    Refusal `reassessment_closed` or `already_booked` (409), `no_visit_type` (409), and everything book_visit refuses.
    """
    row = _bookable(reassessment, now)
    appointment = book_visit(
        by=by, client=row.episode.client, visit_type=visit_type or _default_type(), clinician=clinician, start=start,
        now=now, room=room, episode=row.episode, due_earliest=row.earliest, due_latest=row.latest,
        note=note, held=held,
    )
    # conditional, and after the booking's own locks, so that nobody deadlocks: of two people at once the second is refused
    free = Q(appointment__isnull=True) | Q(appointment=appointment)
    if not Reassessment.objects.filter(free, pk=row.pk, status=ReassessmentStatus.OPEN).update(appointment=appointment):
        _bookable(reassessment, now)
        raise Refusal("changed_meanwhile", "This reassessment was changed meanwhile. Nothing was booked.")
    audit.record(
        by=by, verb="book_reassessment", kind="reassessment", public_id=row.public_id, at=now, client=row.episode.client,
        appointment=str(appointment.public_id),
    )
    return appointment


def _bookable(reassessment: Reassessment, now: datetime) -> Reassessment:
    row = Reassessment.objects.select_related("episode__client__site", "appointment__site").get(pk=reassessment.pk)
    if row.status != ReassessmentStatus.OPEN:
        raise Refusal("reassessment_closed", "This reassessment is not open any more.", state=row.status)
    if row.appointment:
        raise Refusal("already_booked", _booked(row.appointment, now), starts=row.appointment.starts.isoformat())
    return row


def _default_type() -> VisitType:
    found = next((each for each in visit_types() if each.is_reassessment), None)
    if found is None:
        raise Refusal("no_visit_type", "The practice has no visit type for reassessments yet. Please add one first.")
    return found


def _booked(appointment: Appointment, now: datetime) -> str:
    local = appointment.starts.astimezone(zones.zone(appointment.site.zone))
    when = f"{local:%A} {local.day} {local:%B}, {local:%H:%M}"
    if appointment.starts < now:
        return f"The visit of {when} has not been closed. Mark it finished or no-show first."
    return f"It is booked already, for {when}."
