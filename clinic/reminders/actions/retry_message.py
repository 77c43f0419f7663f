"""Put a message that failed, or whose outcome nobody knows, back into the queue."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.reminders import bell
from clinic.reminders.actions.release_leases import FREE
from clinic.reminders.models import Message
from clinic.reminders.vocab import MessageState

RETRYABLE = (MessageState.FAILED, MessageState.UNKNOWN)


@transaction.atomic
def retry_message(*, by: User, message: Message, now: datetime) -> Message:
    """Wait for delivery again, from now. Refused when it is in another state or would come too late.

    A person who sends a message of unknown outcome again takes the doubt on themselves; the audit names them.
    """
    row = Message.objects.select_for_update().get(pk=message.pk)
    if row.state not in RETRYABLE:
        raise Refusal("not_retryable", "Only a failed message can be sent again.", state=row.state)
    if row.not_after < now:
        raise Refusal("too_late", "This message would come too late to be of use.", not_after=row.not_after.isoformat())
    before = row.state
    Message.objects.filter(pk=row.pk).update(
        state=MessageState.PENDING, reason="", attempts=0, due=min(now, row.not_after), **FREE
    )
    audit.record(
        by=by, verb="retry_message", kind="message", public_id=row.public_id, at=now, client=row.client, before=before
    )
    bell.ring()
    row.refresh_from_db()
    return row
