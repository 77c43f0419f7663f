"""Cancel the visits of a series: this one, this and later ones, or all that are still to come."""

from __future__ import annotations

from datetime import datetime

from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.models import Appointment
from clinic.booking.queries import in_scope
from clinic.people.models import User
from clinic.people.retrying import in_one_transaction


@in_one_transaction
def cancel_series(*, by: User, appointment: Appointment, scope: str, reason: str, now: datetime) -> list[Appointment]:
    """Cancel each of them, in one transaction. `scope` is a SeriesScope; visits that took place are left alone.

    Refusals: those of `cancel_visit`, `invalid` (400) for another scope.
    """
    return [
        cancel_visit(by=by, appointment=visit, reason=reason, now=now) for visit in in_scope(appointment, scope, now)
    ]
