"""What visits adds to the daily digest: reassessments past their date without a visit."""

from __future__ import annotations

from datetime import datetime

from clinic.people.models import User
from clinic.people.rules import zones
from clinic.reminders.digests import Waiting, register
from clinic.visits.queries import overdue_list


def overdue(user: User, now: datetime, zone: str) -> list[Waiting]:
    """How many. One query."""
    number = overdue_list(user, zones.day_in(now, zone), "overdue").count()
    return [Waiting(number, "reassessment overdue", "reassessments overdue")]


register(overdue)
