"""Take over a clinician's own calendar as time in which nobody is booked."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from clinic.booking.models import Absence, Appointment
from clinic.booking.rules import grid as g
from clinic.booking.vocab import HOLDING
from clinic.people import audit
from clinic.people.models import Staff, User

REASON = "From a calendar"   # what it was is not kept


@transaction.atomic
def import_busy(*, by: User, clinician: Staff, spans: Sequence[g.Span], now: datetime) -> tuple[int, int]:
    """(times taken over, visits that stand in them). What an earlier file said of the time to come is replaced."""
    Absence.objects.filter(clinician=clinician, reason=REASON, away=None, ends__gt=now).delete()
    Absence.objects.bulk_create(
        Absence(clinician=clinician, starts=begin, ends=end, reason=REASON) for begin, end in spans
    )
    visits = Appointment.objects.filter(clinician=clinician, status__in=HOLDING, ends__gt=now)
    held = list(visits.values_list("starts", "ends"))
    clashes = sum(any(g.overlaps(visit, span) for span in spans) for visit in held)
    audit.record(
        by=by, verb="import_busy", kind="staff", public_id=clinician.public_id, at=now, client=None, times=len(spans),
    )
    return len(spans), clashes
