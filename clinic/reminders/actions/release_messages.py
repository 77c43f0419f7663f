"""Let messages leave again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from clinic.reminders import bell
from clinic.reminders.models import Hold


@transaction.atomic
def release_messages(*, by: User, now: datetime) -> None:
    """Lift every hold. What is no longer useful by now is skipped as late, not sent. Refusal: `not_held`."""
    if by.role != Role.LEAD:
        raise NotThere
    if not Hold.objects.filter(lifted_at__isnull=True).update(lifted_at=now, lifted_by=by):
        raise Refusal("not_held", "Messages are not being held.", status=409)
    audit.record(by=by, verb="release_messages", kind="outbox", public_id="all", at=now, client=None)
    bell.ring()
