"""Whether a message may go out at this moment."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time
from typing import Literal

from clinic.people.rules.zones import outside_quiet_hours


@dataclass(frozen=True)
class Recipient:
    """Who gets it, as known at the moment of sending. Equal quiet bounds mean no quiet hours."""

    first_name: str
    address: str
    language: str
    zone: str
    quiet_from: time
    quiet_until: time
    archived: bool
    account_open: bool
    consented: bool
    suppressed: bool = False


@dataclass(frozen=True)
class Verdict:
    """`send`; `skip` for a reason (a code); or `wait` until an instant."""

    what: Literal["send", "skip", "wait"]
    reason: str = ""
    until: datetime | None = None


def judge(
    recipient: Recipient, *, now: datetime, not_after: datetime, needs_consent: bool, respects_quiet_hours: bool
) -> Verdict:
    """Send, skip or wait. A wait that would end after `not_after` is a skip: the message would come too late."""
    if now > not_after:
        return Verdict("skip", "expired")
    if recipient.archived:
        return Verdict("skip", "archived")
    if not recipient.account_open:
        return Verdict("skip", "account_closed")
    if not recipient.address:
        return Verdict("skip", "no_address")
    if recipient.suppressed:
        return Verdict("skip", "suppressed")
    if needs_consent and not recipient.consented:
        return Verdict("skip", "no_consent")
    if respects_quiet_hours:
        until = outside_quiet_hours(now, recipient.quiet_from, recipient.quiet_until, recipient.zone)
        if until > not_after:
            return Verdict("skip", "quiet_until_too_late")
        if until > now:
            return Verdict("wait", until=until)
    return Verdict("send")
