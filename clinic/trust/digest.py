"""What trust adds to the daily digest: what clients ask to have set right."""

from __future__ import annotations

from datetime import datetime

from clinic.people.corrections import open_corrections
from clinic.people.models import User
from clinic.people.vocab import Role
from clinic.reminders.digests import Waiting, register


def to_set_right(user: User, now: datetime, zone: str) -> list[Waiting]:
    """How many wait for the desk. One query."""
    if user.role != Role.FRONT_DESK:
        return []
    return [Waiting(open_corrections(user).count(), "request to set details right", "requests to set details right")]


register(to_set_right)
