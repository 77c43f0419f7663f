"""How a note is said on a screen."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from uuid import UUID


@dataclass(frozen=True)
class NoteLine:
    """One note of a conversation. `about` is the log id of the session it is about, `day` that session's day."""

    note_id: UUID
    author: str
    from_client: bool
    at: datetime
    zone: str
    words: str
    about: UUID | None
    day: date | None
    with_log: bool
    read_at: datetime | None


def note_line(row: Any, client: Any) -> NoteLine:
    """The note for a screen; `row` comes with its log and author."""
    staff = getattr(row.by, "staff", None)
    read = getattr(row, "read", None)
    return NoteLine(
        row.note_id, client.name if row.from_client else staff.name if staff else "The clinic", row.from_client, row.at,
        client.zone, row.words, row.log.log_id if row.log else None, row.log.day if row.log else None, not row.text,
        read.at if read else None,
    )
