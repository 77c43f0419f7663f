"""Ways out that behave as a test asks, and the kinds of message the tests send."""

from __future__ import annotations

import os
import smtplib
import time
from pathlib import Path

from clinic.reminders.inbox import InboxBackend
from clinic.reminders.kinds import Kind, Wording, known, register

STALL_SECONDS = 60


def stall(point: str) -> None:
    """When the environment names a folder: say in it that this point was reached, and stay there."""
    folder = os.environ.get("INTERVALE_TEST_STALL", "")
    if folder:
        (Path(folder) / point).touch()
        time.sleep(STALL_SECONDS)


def _checked(message, now):
    if message.kind == "stall_check":
        stall("check")
    return STATE["wanted"]


def kind(code: str, **rules) -> Kind:
    wordings = {
        "en": Wording("Note for {first_name}", f"{code}: {{day}} {{time}} at {{clinic}}, call {{phone}}, see {{url}}"),
        "es": Wording("Nota para {first_name}", f"{code}: {{day}} {{time}} en {{clinic}}"),
    }
    return Kind(code=code, label=f"Test {code}", wordings=wordings, still_wanted=_checked, **rules)


STATE: dict[str, str | None] = {"wanted": None}
KINDS = [
    kind("note"),
    kind("urgent", needs_consent=False, respects_quiet_hours=False),
    kind("once", after_unknown="hold"),
    kind("stall_check", respects_quiet_hours=False),
    kind("stall_before", respects_quiet_hours=False),
    kind("stall_after", respects_quiet_hours=False),
    kind("stall_hold", respects_quiet_hours=False, after_unknown="hold"),
]
for _kind in KINDS:
    if known(_kind.code) is None:
        register(_kind)


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
