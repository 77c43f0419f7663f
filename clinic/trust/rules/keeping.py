"""How long things are kept: whole days by the calendar, counted so that nothing goes a day too soon.

What ended on a day and is kept for so many months is kept through the day of the same number; where that month has no such
day, as after 29 February, through the first of the next. On the day after it may go.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Mapping
from datetime import MINYEAR, date, timedelta

# least and most of each setting. The least guard against a slip of the hand (no source): the law says more, and decides.
LIMITS: Mapping[str, tuple[int, int]] = {
    "record_years": (3, 100), "message_months": (6, 1200), "proof_days": (1, 3650), "key_days": (7, 3650),
}


def kept_through(ended: date, months: int) -> date:
    """The last day on which what ended then is kept."""
    year, month = _shifted(ended, months)
    if ended.day > monthrange(year, month)[1]:
        year, month = (year + 1, 1) if month == 12 else (year, month + 1)
        return date(year, month, 1)
    return date(year, month, ended.day)


def may_go(today: date, months: int) -> date | None:
    """The latest day of ending that is kept no more today; None when it lies before the calendar."""
    yesterday = today - timedelta(days=1)
    year, month = _shifted(yesterday, -months)
    if year < MINYEAR:
        return None
    return date(year, month, min(yesterday.day, monthrange(year, month)[1]))


def wrong_settings(given: Mapping[str, int | None]) -> dict[str, str]:
    """A sentence for each setting out of its limits; nothing given means for ever."""
    return {
        name: f"{least} at the least and {most} at the most, or nothing for ever."
        for name, (least, most) in LIMITS.items()
        if (number := given.get(name)) is not None and not least <= number <= most
    }


def _shifted(day: date, months: int) -> tuple[int, int]:
    year, month = divmod(day.year * 12 + day.month - 1 + months, 12)
    return year, month + 1
