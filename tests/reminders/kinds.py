"""The kinds of message the tests send. Knows no model, so that a worker can load it before Django is set up."""

from __future__ import annotations

import os
import time
from pathlib import Path

from clinic.reminders.kinds import Kind, Wording

STALL_SECONDS = 600


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
KINDS: list[Kind] = [
    kind("note"),
    kind("urgent", needs_consent=False, respects_quiet_hours=False),
    kind("once", after_unknown="hold"),
    kind("stall_check", respects_quiet_hours=False),
    kind("stall_before", respects_quiet_hours=False),
    kind("stall_after", respects_quiet_hours=False),
    kind("stall_hold", respects_quiet_hours=False, after_unknown="hold"),
]
