"""Send nothing more to an address that does not exist."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.reminders.models import Message, Suppression


@transaction.atomic
def suppress_address(*, by: User, message: Message, address: str, now: datetime) -> Suppression:
    """Note the address `message` could not be brought to. Twice is once until it is lifted."""
    row, created = Suppression.objects.get_or_create(
        channel=message.channel, address=address.lower(), lifted_at=None,
        defaults={"client": message.client, "staff": message.staff, "since": now},
    )
    if created:
        audit.record(
            by=by, verb="suppress_address", kind="suppression", public_id=row.public_id, at=now, client=message.client,
            channel=message.channel,
        )
    return row
