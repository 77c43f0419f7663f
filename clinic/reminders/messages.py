"""The kinds of message that this app sends for itself."""

from __future__ import annotations

from datetime import datetime

from clinic.reminders.actions.plan_digests import KIND
from clinic.reminders.digests import counts_for
from clinic.reminders.kinds import Kind, Wording, register
from clinic.reminders.models import Message
from clinic.reminders.queries import DIGEST_ROLES, first_site

MAIL_CHECK = Kind(
    code="mail_check",
    label="Test message",
    wordings={
        "en": Wording(
            subject="Mail from {clinic} works",
            body=(
                "Hello {first_name},\n\nyou asked for this test at {time}. Messages to clients leave the same way.\n\n"
                "{clinic}\n{url}\n"
            ),
        )
    },
    still_wanted=lambda message, now: None,
    needs_consent=False,
    respects_quiet_hours=False,
)

register(MAIL_CHECK)


def digest_still_wanted(message: Message, now: datetime) -> str | None:
    """A code when the person no longer has such a role, or nothing waits for them any more."""
    staff = message.staff
    if staff is None or staff.user.role not in DIGEST_ROLES:
        return "other_role"
    site = first_site(staff.user)
    return None if counts_for(staff.user, now, site.zone if site else "UTC") else "nothing_waits"


register(
    Kind(
        code=KIND,
        label="What waits today, to clinicians and the desk",
        wordings={
            "en": Wording(
                subject="Today at {clinic}",
                body="Good morning {first_name},\n\n{counts}.\n\nSign in to see them:\n{url}\n\n{clinic}\n",
            )
        },
        still_wanted=digest_still_wanted,
        needs_consent=False,
        after_unknown="hold",   # one too few is better than two
    )
)
