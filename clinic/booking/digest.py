"""What booking adds to the daily digest: the visits of today."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.queries import appointments_for
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import User
from clinic.people.rules import zones
from clinic.reminders.digests import Waiting, register


def visits_today(user: User, now: datetime, zone: str) -> list[Waiting]:
    """Booked visits of the local day: a clinician's own, those at the desk's sites. One query."""
    start, end = zones.day_bounds(zones.day_in(now, zone), zone)
    rows = appointments_for(user).filter(starts__gte=start, starts__lt=end, status=AppointmentStatus.BOOKED)
    return [Waiting(rows.count(), "visit today", "visits today")]


register(visits_today)
