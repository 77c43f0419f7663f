"""The one kind of message that this app sends for itself."""

from __future__ import annotations

from clinic.reminders.kinds import Kind, Wording, register

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
