"""Send a member of staff a message, to see whether mail goes out."""

from __future__ import annotations

from datetime import datetime, timedelta

from clinic.people.models import User
from clinic.people.queries import staff_for
from clinic.people.refusal import Refusal
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.models import Message

USEFUL_FOR = timedelta(hours=1)


def check_mail(*, by: User, now: datetime) -> Message:
    """Queue it to the person who asks; once a minute at most."""
    staff = staff_for(by)
    message = queue_message(
        by=by,
        kind="mail_check",
        to=staff,
        about=f"staff:{staff.public_id}",
        dedup_key=f"mail_check:{staff.public_id}:{now:%Y%m%d%H%M}",
        due=now,
        not_after=now + USEFUL_FOR,
        now=now,
        values={"time": f"{now:%H:%M} UTC"},
    )
    if message is None:
        raise Refusal("just_sent", "A test message was asked for a moment ago. Wait a minute.")
    return message
