"""Take a client off the waitlist."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.booking.models import WaitlistEntry
from clinic.booking.vocab import WaitState
from clinic.people import audit
from clinic.people.models import User


@transaction.atomic
def leave_waitlist(*, by: User, entry: WaitlistEntry, now: datetime) -> bool:
    """Withdraw the entry; False when it no longer waits."""
    if not WaitlistEntry.objects.filter(pk=entry.pk, state=WaitState.WAITING).update(state=WaitState.WITHDRAWN):
        return False
    audit.record(
        by=by, verb="leave_waitlist", kind="waitlist", public_id=entry.public_id, at=now, client=entry.client
    )
    return True
