"""Keep reassessments in step with the visit that is booked for them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.booking.models import Appointment
from clinic.booking.vocab import AppointmentStatus
from clinic.people import audit
from clinic.people.models import User
from clinic.people.rules import zones
from clinic.people.vocab import EpisodeStatus
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.models import Reassessment
from clinic.visits.rules.plan import after_interval
from clinic.visits.vocab import ReassessmentReason, ReassessmentStatus

AHEAD = (AppointmentStatus.BOOKED, AppointmentStatus.ARRIVED, AppointmentStatus.CHECKED_IN)
FREED_BY = (AppointmentStatus.CANCELLED, AppointmentStatus.NOSHOW, AppointmentStatus.ENTERED_IN_ERROR)


@transaction.atomic
def follow_appointment(*, by: User, appointment: Appointment, now: datetime) -> None:
    """A visit that will not be, or was not, frees its reassessment; a finished one closes it and plans the next look.

    A visit put back into the book takes its reassessment back, and one that is no longer finished reopens it.
    """
    tied = Reassessment.objects.select_for_update().filter(appointment=appointment)
    if appointment.status in FREED_BY:
        for row in tied.exclude(status=ReassessmentStatus.WITHDRAWN):
            _free(by, row, now)
    elif appointment.status == AppointmentStatus.FULFILLED:
        for row in tied.filter(status=ReassessmentStatus.OPEN):
            _close(by, row, appointment, now)
    elif appointment.status in AHEAD:
        for row in tied.filter(status=ReassessmentStatus.DONE):
            _reopen(by, row, now)
        _tie(by, appointment, now)


def _tie(by: User, appointment: Appointment, now: datetime) -> None:
    """Give a visit that was put back the reassessment it was made for, when that is still waiting."""
    earliest, latest = appointment.due_earliest, appointment.due_latest
    if appointment.version == 1 or earliest is None or latest is None:
        return
    row = Reassessment.objects.select_for_update().filter(
        episode=appointment.episode_id, status=ReassessmentStatus.OPEN, appointment__isnull=True,
        earliest=earliest, latest=latest,
    ).order_by("due", "pk").first()
    if row is not None and not appointment.reassessments.exists():
        row.appointment = appointment
        row.save(update_fields=["appointment"])
        _record(by, "tie_reassessment", row, now)


def _other_open(row: Reassessment) -> bool:
    same = Reassessment.objects.filter(episode=row.episode_id, reason=row.reason, status=ReassessmentStatus.OPEN)
    return same.exclude(pk=row.pk).exists()


def _reopen(by: User, row: Reassessment, now: datetime) -> None:
    if _other_open(row):
        return   # the next one of this reason is already open: never two
    row.status, row.closed_at = ReassessmentStatus.OPEN, None
    row.save(update_fields=["status", "closed_at"])
    _record(by, "reopen_reassessment", row, now)


def _free(by: User, row: Reassessment, now: datetime) -> None:
    if row.status == ReassessmentStatus.DONE and _other_open(row):
        return
    row.status, row.appointment, row.closed_at = ReassessmentStatus.OPEN, None, None
    row.save(update_fields=["status", "appointment", "closed_at"])
    _record(by, "free_reassessment", row, now)


def _close(by: User, row: Reassessment, appointment: Appointment, now: datetime) -> None:
    row.status, row.closed_at = ReassessmentStatus.DONE, now
    row.save(update_fields=["status", "closed_at"])
    _record(by, "close_reassessment", row, now)
    if row.episode.status == EpisodeStatus.ACTIVE:
        span = after_interval(zones.day_in(appointment.starts, appointment.site.zone))
        plan_reassessment(
            by=by, episode=row.episode, reason=ReassessmentReason.INTERVAL, earliest=span.earliest, due=span.due,
            latest=span.latest, now=now,
        )


def _record(by: User, verb: str, row: Reassessment, now: datetime) -> None:
    audit.record(
        by=by, verb=verb, kind="reassessment", public_id=row.public_id, at=now, client=row.episode.client, reason=row.reason
    )
