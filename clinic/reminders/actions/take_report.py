"""Take in what a gateway reports of a message it took."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction
from django.db.models import F

from clinic.people.models import User
from clinic.people.vocab import Channel
from clinic.reminders.actions.release_leases import FREE, LEFT
from clinic.reminders.actions.suppress_address import suppress_address
from clinic.reminders.letters import recipient_of
from clinic.reminders.models import DeliveryReport, Message
from clinic.reminders.queries import with_recipient
from clinic.reminders.vocab import MessageState, Outcome

REASONS = {Outcome.FAILED: "not_delivered", Outcome.NO_SUCH: "no_such_address"}


@transaction.atomic
def take_report(*, by: User, report_id: str, message_id: str, outcome: Outcome, address: str, now: datetime) -> str:
    """`taken`, `known` (this report was taken before), `unknown` (no such message, or never handed over), or `overtaken`.

    In whatever order reports come, arrived wins: it ends every doubt, and a message that waits to go again does not go. A
    report may come before the worker that handed the message over has recorded that: the claim ends here, and the worker's
    own record then finds nothing to change. `address` is the one the report names: another than the recipient's now is not
    held against them.
    """
    message = (
        with_recipient(Message.objects.select_for_update(of=("self",)))
        .filter(public_id=message_id, channel=Channel.SMS, attempts__gt=0)
        .first()
    )
    if message is None:
        return "unknown"
    _, fresh = DeliveryReport.objects.get_or_create(
        report_id=report_id, defaults={"message": message, "outcome": outcome, "at": now}
    )
    if not fresh:
        return "known"
    if message.state == MessageState.CLAIMED:   # its mark, which goes now, says that those before it have left
        before = Message.objects.filter(state=MessageState.CLAIMED, claimed_by=message.claimed_by)
        before.filter(handed_over_at__lt=message.handed_over_at).update(sent_at=F("handed_over_at"), **LEFT)
    row = Message.objects.filter(pk=message.pk)
    if outcome == Outcome.DELIVERED:
        row.update(**{**FREE, "state": MessageState.SENT, "reason": "", "sent_at": message.sent_at or now})
        return "taken"
    if message.reports.filter(outcome=Outcome.DELIVERED).exists():
        return "overtaken"
    row.update(state=MessageState.FAILED, reason=REASONS[outcome], **FREE)
    if outcome == Outcome.NO_SUCH and recipient_of(message).address == address:
        suppress_address(by=by, message=message, address=address, now=now)
    return "taken"
