"""The ledger: what the mail server and the gateway really have, against the rows of the outbox."""

from __future__ import annotations

from collections import Counter

from clinic.reminders.channels import message_id
from clinic.reminders.kinds import known
from clinic.reminders.models import Message
from clinic.reminders.vocab import MessageState


def wrong(mails: Counter[str], texts: Counter[str]) -> list[str]:
    """What does not add up, one sentence each; empty when every message was sent once, left out with a reason, or is visibly
    in doubt. `mails` counts copies by Message-ID, `texts` by the id that was handed to the gateway.

    A copy more than one is right only for a kind whose policy is to send again after a break, once, counted in the row.
    """
    found, left = [], {**{f"mail {key}": count for key, count in mails.items()}, **texts}
    for row in Message.objects.all():
        key = f"mail {mail_id(row)}" if row.channel == "email" else str(row.public_id)
        copies = left.pop(key, 0)
        least, most = _bounds(row)
        if not least <= copies <= most:
            found.append(f"{row.kind} {row.pk} is {row.state} ({row.reason}, resent {row.resends}) with {copies} copies")
        if row.state in {MessageState.SKIPPED, MessageState.FAILED, MessageState.UNKNOWN} and not row.reason:
            found.append(f"{row.kind} {row.pk} is {row.state} without a reason")
        if row.resends and known(row.kind).after_unknown == "hold":
            found.append(f"{row.kind} {row.pk} went again, which its kind forbids")
    return [*found, *(f"{key} is in no row" for key in left)]


def _bounds(row: Message) -> tuple[int, int]:
    if row.state == MessageState.SENT:
        return 1, 1 + row.resends
    if row.state == MessageState.UNKNOWN:
        return 0, 1 + row.resends
    return 0, row.resends


def mail_id(row: Message) -> str:
    """The Message-ID of a row's mail."""
    return message_id(str(row.public_id))
