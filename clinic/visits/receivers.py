"""What visits does when the book changes; runs inside the transaction that changes it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.dispatch import receiver

from clinic.booking.signals import appointment_changed
from clinic.visits.actions.follow_appointment import follow_appointment


@receiver(appointment_changed, dispatch_uid="visits.follow_appointment")
def on_appointment_changed(
    sender: Any, *, appointment: Any, now: datetime, by: Any, new: bool = False, **kwargs: Any
) -> None:
    """Free or close the reassessments of a visit; one that was not there before has none."""
    if not new:
        follow_appointment(by=by, appointment=appointment, now=now)
