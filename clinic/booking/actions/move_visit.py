"""Move a visit to another time, clinician or room."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import availability, checking, claiming
from clinic.booking.changes import note_change, state_of
from clinic.booking.models import Appointment, Room
from clinic.booking.queries import UPCOMING, locked
from clinic.booking.signals import appointment_changed
from clinic.booking.telling import tell_client, tell_rest_of_series
from clinic.booking.vocab import ChangeKind
from clinic.people import audit
from clinic.people.models import Staff, User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


def move_visit(
    *,
    by: User,
    appointment: Appointment,
    start: datetime,
    now: datetime,
    clinician: Staff | None = None,
    room: Room | None = None,
) -> Appointment:
    """Move it and tell the client. It stays in its room where that is free, otherwise any suitable one is taken.

    Refusals as for booking, and `wrong_status` (409) when the visit is not waiting to happen. The same place and time
    again changes nothing.
    """
    person = clinician or appointment.clinician
    claiming.check_start(start, now)
    asked = claiming.Asked(
        appointment.site, appointment.visit_type, person, appointment.client, start, now, moving=appointment
    )
    there = claiming.presence_for(asked)
    checking.check_people(
        appointment.client, person, room, appointment.visit_type, appointment.episode,
        here=there.at_site if appointment.site_id == appointment.client.site_id else None,
    )
    claiming.check_hours(asked, there)
    return claiming.or_refuse(lambda: _write(appointment, asked, room, by), asked)


@in_one_transaction
def _write(seen: Appointment, asked: claiming.Asked, room: Room | None, by: User) -> Appointment:
    claiming.lock([seen.clinician_id, asked.clinician.pk], seen.client, seen.site)
    appointment = locked(seen)
    if appointment.status not in UPCOMING:
        raise Refusal(
            "wrong_status", f"This visit is {appointment.get_status_display().lower()}. It cannot be moved.", status=409,
            state=appointment.status,
        )
    before = state_of(appointment)
    length = int((appointment.ends - appointment.starts).total_seconds() // 60)
    (appointment.starts, appointment.ends), (appointment.busy_from, appointment.busy_until) = availability.spans_of(
        appointment.visit_type, asked.start, length
    )
    appointment.clinician = asked.clinician
    claiming.settle(appointment, room, first=appointment.room)
    if state_of(appointment) == before:
        return appointment
    appointment.version += 1
    appointment.changed_at = asked.now
    claiming.take(appointment)
    note_change(ChangeKind.MOVED, appointment, before, by, asked.now)
    audit.record(
        by=by, verb="move_visit", kind="appointment", public_id=appointment.public_id, at=asked.now,
        client=appointment.client, was=before["starts"], starts=appointment.starts.isoformat(),
    )
    if appointment.starts.isoformat() != before["starts"]:
        tell_client("visit_moved", appointment, by=by, now=asked.now)
        tell_rest_of_series(appointment, by=by, now=asked.now)
    appointment_changed.send(sender=Appointment, appointment=appointment, now=asked.now, by=by)
    return appointment
