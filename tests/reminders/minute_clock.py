"""A clock walked minute by minute: the slow, plain answer to when something may be sent or falls due.

It steps through UTC minutes and asks zoneinfo what the clock on the wall shows; it reckons with no offset, no fold and no
rule of the application.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

MINUTE = timedelta(minutes=1)


@dataclass(frozen=True)
class Minute:
    utc: datetime
    day: date
    at: time


def minutes(first: datetime, last: datetime, zone: str) -> list[Minute]:
    """Every minute from `first` to `last` with what the clock shows in it."""
    place, walked, moment = ZoneInfo(zone), [], first
    while moment <= last:
        local = moment.astimezone(place)
        walked.append(Minute(moment, local.date(), time(local.hour, local.minute)))
        moment += MINUTE
    return walked


def changes(year: int, zone: str) -> list[datetime]:
    """The first minutes of a year that are not one minute on the wall after the minute before."""
    place, found = ZoneInfo(zone), []
    hour = datetime(year, 1, 1, tzinfo=UTC)
    while hour.year == year:
        after = hour + timedelta(hours=1)
        if _wall(after, place) - _wall(hour, place) != timedelta(hours=1):
            steps = (hour + number * MINUTE for number in range(1, 61))
            found.append(next(step for step in steps if _wall(step, place) - _wall(step - MINUTE, place) != MINUTE))
        hour = after
    return found


def quiet_ends(walked: list[Minute], quiet_from: time, quiet_until: time) -> list[datetime | None]:
    """For each minute the first one, itself counted, in which the wall shows no quiet time; None past the walk's end."""
    ends: list[datetime | None] = []
    free: datetime | None = None
    for minute in reversed(walked):
        if not _within(minute.at, quiet_from, quiet_until):
            free = minute.utc
        ends.append(free)
    return ends[::-1]


def first_shown(walked: list[Minute], day: date, at: time) -> datetime:
    """The first minute of that day in which the wall shows `at` or something later."""
    return next(minute.utc for minute in walked if minute.day == day and minute.at >= at)


def nth_day(walked: list[Minute], count: int) -> date:
    """The day on the wall after `count` more midnights than at the walk's begin."""
    days: list[date] = []
    for minute in walked:
        if minute.day not in days[-2:]:
            days.append(minute.day)
    return days[count]


def _wall(moment: datetime, place: ZoneInfo) -> datetime:
    return moment.astimezone(place).replace(tzinfo=None)


def _within(at: time, quiet_from: time, quiet_until: time) -> bool:
    """Hands on a dial: from `quiet_from` forward, is `at` met before `quiet_until`?"""
    def past(other: time) -> int:
        return ((other.hour - quiet_from.hour) * 60 + other.minute - quiet_from.minute) % 1440

    return past(at) < past(quiet_until)
