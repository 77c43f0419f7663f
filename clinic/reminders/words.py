"""How states and reasons of messages are said on a screen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from clinic.reminders.kinds import known
from clinic.reminders.vocab import MessageState

SHAPES = {
    MessageState.PENDING: ("wait", "Waiting"),
    MessageState.CLAIMED: ("part", "Being sent"),
    MessageState.SENT: ("good", "Sent"),
    MessageState.SKIPPED: ("silent", "Not sent"),
    MessageState.FAILED: ("low", "Failed"),
    MessageState.UNKNOWN: ("alert", "Unclear"),
}
REASONS = {
    "expired": "It would have come too late.",
    "archived": "The client is archived.",
    "account_closed": "The account is closed.",
    "no_address": "There is no address. Ask for one.",
    "suppressed": "This address did not work before. Ask for another, or lift it.",
    "not_delivered": "The gateway could not bring it.",
    "no_consent": "No agreement to messages.",
    "quiet_until_too_late": "After the quiet hours it would be too late.",
    "no_such_address": "There is no such address. Ask for a new one.",
    "no_device": "No device of theirs takes notifications any more.",
    "refused": "The mail server or the gateway will not take it.",
    "gave_up": "Tried until it was too late.",
    "no_channel": "The clinic cannot send on this channel.",
    "unknown_kind": "Nobody knows this kind of message.",
    "outcome_unknown": "It may have arrived. Ask before you send it again.",
    "moved": "It was moved.",
    "cancelled": "It was cancelled.",
    "gone": "What it was about is gone.",
    "started": "It has begun already.",
}


@dataclass(frozen=True)
class Line:
    """One message as the list shows it."""

    public_id: UUID
    what: str
    who: str
    shape: str
    word: str
    reason: str
    due: datetime
    can_retry: bool


def line(message: Any, now: datetime) -> Line:
    """The message in words; `message` comes with client and staff loaded."""
    kind = known(message.kind)
    shape, word = SHAPES[MessageState(message.state)]
    person = message.client or message.staff
    return Line(
        public_id=message.public_id,
        what=kind.label if kind else "Message",
        who=person.name,
        shape=shape,
        word=word,
        reason=_reason(message),
        due=message.due,
        can_retry=message.state in (MessageState.FAILED, MessageState.UNKNOWN) and message.not_after >= now,
    )


def _reason(message: Any) -> str:
    if message.state == MessageState.SENT and message.resends:
        return "Sent a second time after a break. It may have come twice."
    if message.state == MessageState.PENDING and message.attempts:
        return "Tried before. It is tried again."
    if not message.reason:
        return ""
    return REASONS.get(message.reason, f"No longer wanted: {message.reason.replace('_', ' ')}.")
