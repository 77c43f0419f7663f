"""Take over a visit from another system, past ones and those outside hours as well."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import availability, checking, claiming, groups
from clinic.booking.models import Appointment, GroupVisit, Room, VisitType
from clinic.booking.signals import appointment_changed
from clinic.booking.vocab import HOLDING, AppointmentStatus
from clinic.people import audit
from clinic.people.models import Client, Episode, Staff, User
from clinic.people.retrying import in_one_transaction


def import_visit(
    *,
    by: User,
    client: Client,
    visit_type: VisitType,
    clinician: Staff,
    start: datetime,
    now: datetime,
    status: str = AppointmentStatus.BOOKED,
    minutes: int | None = None,
    room: Room | None = None,
    episode: Episode | None = None,
    note: str = "",
    external_ref: str = "",
) -> Appointment:
    """Write it as it was, telling nobody. `minutes` when it lasted other than its type.

    A status that holds time claims it like a booking does: `slot_taken` (409) when another visit has it. Other
    Refusals: `number_taken` (409) for an external_ref already there; `invalid`, `off_grid`, `too_far` (400).
    """
    checking.check_people(client, clinician, room, visit_type, episode, archived=True, active=False)
    checking.check_words(note, external_ref, None, None)
    checking.check_known(status, minutes)
    claiming.check_start(start, now, past=True)
    (starts, ends), (busy_from, busy_until) = availability.spans_of(visit_type, start, minutes)
    appointment = Appointment(
        site=client.site, client=client, episode=episode, clinician=clinician, visit_type=visit_type, starts=starts,
        ends=ends, busy_from=busy_from, busy_until=busy_until, status=status, note=note.strip(), booked_by=by,
        booked_at=min(now, starts), external_ref=external_ref,
    )
    asked = claiming.Asked(client.site, visit_type, clinician, client, start, now)
    return claiming.or_refuse(lambda: _write(appointment, room, by, now), asked)


@in_one_transaction
def _write(appointment: Appointment, room: Room | None, by: User, now: datetime) -> Appointment:
    appointment.pk = None   # a retry starts afresh
    holds = appointment.status in HOLDING
    claiming.lock([appointment.clinician_id], appointment.client, appointment.site)
    if appointment.visit_type.is_group and holds:
        _see_to_group(appointment, room, by, now)
        claiming.settle(appointment)
    elif room is not None:
        appointment.room = room
    elif holds:
        claiming.choose_room(appointment)
    else:
        claiming.any_room(appointment)
    claiming.take(appointment)
    audit.record(
        by=by, verb="import_visit", kind="appointment", public_id=appointment.public_id, at=now,
        client=appointment.client, status=appointment.status,
    )
    appointment_changed.send(sender=Appointment, appointment=appointment, now=now, by=by)
    return appointment


def _see_to_group(appointment: Appointment, room: Room | None, by: User, now: datetime) -> None:
    """The other system knew the visits only: the first one of a time makes the group."""
    if groups.meeting(appointment.site, appointment.visit_type, appointment.clinician_id, appointment.starts):
        return
    group = GroupVisit(
        site=appointment.site, clinician=appointment.clinician, visit_type=appointment.visit_type, starts=appointment.starts,
        ends=appointment.ends, busy_from=appointment.busy_from, busy_until=appointment.busy_until, at=now, by=by,
    )
    if room is not None:
        group.room = room
    else:
        claiming.choose_room(group)
    claiming.hold(group)
