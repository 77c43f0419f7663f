"""Say what became of a visit: arrived, checked in, finished, no-show; and take that back."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import claiming
from clinic.booking.changes import note_change, state_of
from clinic.booking.models import Appointment
from clinic.booking.queries import locked
from clinic.booking.rules.status import why_not
from clinic.booking.signals import appointment_changed
from clinic.booking.telling import tell_client
from clinic.booking.vocab import HOLDING, AppointmentStatus, ChangeKind
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction
from clinic.people.rules import zones


def mark_visit(*, by: User, appointment: Appointment, status: str, now: datetime) -> Appointment:
    """Set the status. The same one again changes nothing; bringing a cancelled visit or a no-show back takes its time
    anew, past the same wall as a booking.

    Refusals: `invalid` (400) for an unknown status or `cancelled` (that needs a reason), `wrong_step` or `too_early`
    (409), `slot_taken` (409) when somebody else has the time by now.
    """
    if status not in AppointmentStatus.values or status == AppointmentStatus.CANCELLED:
        raise Refusal(
            "invalid", "That is not something a visit can be marked as.", status=400,
            fields={"status": "Choose a status of a visit; to cancel one, give a reason."},
        )
    asked = claiming.Asked(
        appointment.site, appointment.visit_type, appointment.clinician, appointment.client, appointment.starts, now,
        moving=appointment,
    )
    return claiming.or_refuse(lambda: _write(appointment, status, by, now), asked)


@in_one_transaction
def _write(seen: Appointment, status: str, by: User, now: datetime) -> Appointment:
    claiming.lock([seen.clinician_id], seen.client, seen.site)
    fresh = locked(seen)
    if fresh.status == status:
        return fresh
    _check_step(fresh, status, now)
    before, was, fresh.status = state_of(fresh), fresh.status, status
    fresh.changed_at = now
    if status in HOLDING and was not in HOLDING:
        fresh.version, fresh.cancel_reason = fresh.version + 1, ""
        claiming.settle(fresh, first=fresh.room)
        claiming.take(fresh)
        if status == AppointmentStatus.BOOKED:
            tell_client("visit_booked", fresh, by=by, now=now)
    else:
        fresh.version += status == AppointmentStatus.ENTERED_IN_ERROR   # calendars hear of it as of a cancellation
        fresh.save(update_fields=["status", "version", "changed_at"])
        if status not in HOLDING:
            claiming.release(fresh)
        if was == AppointmentStatus.PENDING and status == AppointmentStatus.BOOKED:   # the client's yes
            tell_client("visit_booked", fresh, by=by, now=now)
    note_change(ChangeKind.MARKED, fresh, before, by, now)
    audit.record(
        by=by, verb="mark_visit", kind="appointment", public_id=fresh.public_id, at=now, client=fresh.client,
        was=was, status=status,
    )
    appointment_changed.send(sender=Appointment, appointment=fresh, now=now, by=by)
    return fresh


def _check_step(appointment: Appointment, status: str, now: datetime) -> None:
    place = appointment.site.zone
    problem = why_not(
        appointment.status, status, starts=appointment.starts, day=zones.day_in(appointment.starts, place), now=now,
        today=zones.day_in(now, place),
    )
    if problem is None:
        return
    word = AppointmentStatus(status).label.lower()
    sentence = {
        "wrong_step": f"This visit is {appointment.get_status_display().lower()}. It cannot be marked {word}.",
        "too_early": f"It is too early to mark this visit {word}.",
    }[problem]
    raise Refusal(problem, sentence, status=409, state=appointment.status)
