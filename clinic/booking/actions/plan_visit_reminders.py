"""Queue the reminders of the visits that are a day away."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.booking.queries import to_remind
from clinic.booking.telling import tell_client
from clinic.people.models import User


@transaction.atomic
def plan_visit_reminders(*, by: User, now: datetime) -> int:
    """How many were queued. Once per visit and version: a second run queues nothing.

    A client who was told of a booking or a move within the last day before the visit gets no reminder on top.
    """
    return sum(tell_client("visit_reminder", visit, by=by, now=now) for visit in to_remind(now))
