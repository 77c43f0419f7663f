"""When a client who wished for it is reminded of the day's session. The half hours and the limit are ours, no source."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from clinic.people.rules import zones

STEP_MINUTES = 30
USEFUL_FOR = timedelta(hours=3)   # later the day is nearly over, and a second reminder would press


def times() -> list[time]:
    """The times of day that can be wished for."""
    return [time(minute // 60, minute % 60) for minute in range(0, 24 * 60, STEP_MINUTES)]


def within(at: time, quiet_from: time, quiet_until: time) -> bool:
    """Whether a time of day lies in the hours without messages. Equal bounds mean that there are none."""
    if quiet_from <= quiet_until:
        return quiet_from <= at < quiet_until
    return at >= quiet_from or at < quiet_until


def window(day: date, at: time, zone: str) -> tuple[datetime, datetime]:
    """(due, useless after): the first moment of that day at which the clock shows `at`, and three hours on or midnight."""
    due = zones.clock_reaches(day, at, zone)
    _, midnight = zones.day_bounds(day, zone)
    return due, min(due + USEFUL_FOR, midnight)


def next_after(now: datetime, at: time, zone: str) -> datetime:
    """The next moment after `now` that one is due."""
    today = zones.day_in(now, zone)
    due, _ = window(today, at, zone)
    return due if due > now else window(today + timedelta(days=1), at, zone)[0]
