"""Ways out that behave as a test asks."""

from __future__ import annotations

import smtplib

from clinic.reminders.inbox import InboxBackend
from tests.reminders.kinds import stall


class StallingInbox(InboxBackend):
    """Stays inside the hand-over: before the mail is in the box for one kind, after it for two others."""

    def send_messages(self, email_messages):
        body = email_messages[0].body
        if "stall_before" in body:
            stall("before")
        kept = super().send_messages(email_messages)
        for point in ("after", "hold"):
            if f"stall_{point}" in body:
                stall(point)
        return kept


class Troubled(InboxBackend):
    """Raises what SCRIPT holds, one entry a mail; an empty script sends."""

    SCRIPT: list[Exception | None] = []
    OPEN: list[Exception | None] = []

    def open(self):
        if self.OPEN and (trouble := self.OPEN.pop(0)):
            raise trouble

    def send_messages(self, email_messages):
        if self.SCRIPT and (trouble := self.SCRIPT.pop(0)):
            raise trouble
        return super().send_messages(email_messages)


def refused(code: int) -> smtplib.SMTPRecipientsRefused:
    return smtplib.SMTPRecipientsRefused({"ada@client.example": (code, b"no")})
