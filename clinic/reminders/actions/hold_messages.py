"""Let no message leave until somebody says so."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.queries import system_actor
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from clinic.reminders.models import Hold
from clinic.reminders.vocab import HoldReason


@transaction.atomic
def hold_messages(*, by: User | None, why: HoldReason, now: datetime) -> Hold:
    """Hold the outbox. Messages are still queued; those whose time passes are skipped as late once it goes on.

    `by` None is a command run by whoever has the machine. Holding twice for one reason is one hold.
    """
    if by is not None and by.role != Role.LEAD:
        raise NotThere
    hold, created = Hold.objects.get_or_create(why=why, lifted_at=None, defaults={"since": now, "by": by})
    if created:
        audit.record(
            by=by or system_actor(), verb="hold_messages", kind="outbox", public_id="all", at=now, client=None, why=why.value
        )
    return hold
