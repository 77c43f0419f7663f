"""A visit as an iCalendar file (RFC 5545), as it stands in the client's feed too."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from clinic.booking.feeds import entry
from clinic.booking.rules.ical import calendar_of
from clinic.booking.vocab import FeedKind


def visit_file(visit: Any, now: datetime) -> bytes:
    """One VEVENT; `visit` is an appointment with its site, room and client. A later file replaces an earlier one."""
    return calendar_of([entry(visit, FeedKind.CLIENT)], method="PUBLISH", stamp=now)
