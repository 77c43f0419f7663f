"""Open a closed day again, or take extra hours back."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.booking import inside
from clinic.booking.models import Appointment, SpecialHours
from clinic.booking.queries import UPCOMING
from clinic.people import audit
from clinic.people.models import User


@transaction.atomic
def remove_special_hours(*, by: User, row: SpecialHours, now: datetime) -> None:
    """Refusal `visits_inside` (409) with visits= for extra hours in which visits are booked."""
    if row.is_open:
        visits = Appointment.objects.filter(
            clinician=row.clinician, status__in=UPCOMING, busy_from__lt=row.ends, busy_until__gt=row.starts
        ).select_related("site")
        if visits:
            raise inside.refuse(list(visits), "in those hours", "Move or cancel first.")
    audit.record(
        by=by, verb="remove_special_hours", kind="special_hours", public_id=row.public_id, at=now, client=None,
        starts=row.starts.isoformat(),
    )
    row.delete()
