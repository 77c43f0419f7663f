"""What following adds to the daily digest: open alerts, and suggestions that wait for a decision."""

from __future__ import annotations

from datetime import datetime

from clinic.people.models import User
from clinic.people.vocab import Role
from clinic.reminders.digests import Waiting, register
from programs.following.queries import alerts_for, open_suggestions


def open_things(user: User, now: datetime, zone: str) -> list[Waiting]:
    """Alerts for both, suggestions for clinicians only: what is suggested is no business of the desk's."""
    found = [Waiting(alerts_for(user).filter(closed_at__isnull=True).count(), "open alert", "open alerts")]
    if user.role == Role.CLINICIAN:
        found.append(Waiting(open_suggestions(user).count(), "suggestion to decide", "suggestions to decide"))
    return found


register(open_things)
