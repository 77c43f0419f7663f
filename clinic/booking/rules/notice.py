"""Until when clients change a visit themselves."""

from __future__ import annotations

from datetime import datetime, timedelta

MOST_HOURS = 168   # a week


def last_moment(starts: datetime, hours: int) -> datetime:
    """From this moment on the desk is to be rung; `hours` are real ones, so that a clock change alters nothing."""
    return starts - timedelta(hours=hours)


def is_short(starts: datetime, hours: int, now: datetime) -> bool:
    """Whether a visit is nearer than the notice that the practice asks for."""
    return now > last_moment(starts, hours)
