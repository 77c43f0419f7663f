"""Book a visit."""

from __future__ import annotations

from datetime import date, datetime

from clinic.booking import availability, checking, claiming
from clinic.booking.models import Appointment, Room, Series, VisitType
from clinic.booking.signals import appointment_changed
from clinic.booking.telling import tell_client
from clinic.booking.vocab import AppointmentStatus
from clinic.people import audit
from clinic.people.models import Client, Episode, Staff, User
from clinic.people.retrying import in_one_transaction


def book_visit(
    *,
    by: User,
    client: Client,
    visit_type: VisitType,
    clinician: Staff,
    start: datetime,
    now: datetime,
    room: Room | None = None,
    episode: Episode | None = None,
    due_earliest: date | None = None,
    due_latest: date | None = None,
    note: str = "",
    external_ref: str = "",
    series: Series | None = None,
    remind: bool = True,
    held: bool = False,
) -> Appointment:
    """Book it at the client's site, in `room` or any free suitable one, and tell the client when `remind`.
    `held` keeps the hour for a client who has not said yes yet: the visit is pending.

    Refusals: `slot_taken` (409) with taken= and openings=; `outside_hours`, `in_the_past`, `off_grid`, `too_far`,
    `invalid` (400); `client_archived`, `no_room` (409); `try_again` (503).
    """
    claiming.check_start(start, now)
    asked = claiming.Asked(client.site, visit_type, clinician, client, start, now)
    there = claiming.presence_for(asked)
    checking.check_people(client, clinician, room, visit_type, episode, here=there.at_site)
    checking.check_words(note, external_ref, due_earliest, due_latest)
    claiming.check_hours(asked, there)
    (starts, ends), (busy_from, busy_until) = availability.spans_of(visit_type, start)
    appointment = Appointment(
        site=client.site, client=client, episode=episode, clinician=clinician, visit_type=visit_type, starts=starts,
        ends=ends, busy_from=busy_from, busy_until=busy_until, note=note.strip(),
        due_earliest=due_earliest, due_latest=due_latest, booked_by=by, booked_at=now, external_ref=external_ref,
        series=series, status=AppointmentStatus.PENDING if held else AppointmentStatus.BOOKED,
    )
    return claiming.or_refuse(lambda: _write(appointment, room, by, now, remind), asked)


@in_one_transaction
def _write(appointment: Appointment, room: Room | None, by: User, now: datetime, remind: bool) -> Appointment:
    appointment.pk = None   # a retry starts afresh
    claiming.lock([appointment.clinician_id], appointment.client, appointment.site)
    claiming.settle(appointment, room)
    claiming.take(appointment)
    audit.record(
        by=by, verb="book_visit", kind="appointment", public_id=appointment.public_id, at=now,
        client=appointment.client, starts=appointment.starts.isoformat(), clinician=str(appointment.clinician.public_id),
    )
    if remind:
        kind = "visit_set_aside" if appointment.status == AppointmentStatus.PENDING else "visit_booked"
        tell_client(kind, appointment, by=by, now=now, first=True)
    appointment_changed.send(sender=Appointment, appointment=appointment, now=now, by=by, new=True)
    return appointment
