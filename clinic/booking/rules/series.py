"""Series of visits: which days a rhythm means, and how a change of one visit is carried over to the others."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from itertools import combinations

from clinic.people.rules import zones

MOST_WEEKS = 26
MOST_VISITS = 60
WORKING = 5   # days of the week that a rhythm without weekdays is laid on


def days_of(first: date, weekdays: frozenset[int], weeks: int, every: int = 1) -> list[date]:
    """The days with those weekdays (0 is Monday) in `weeks` weeks counted from `first`, of which each `every`-th counts.

    ValueError when there would be none, more than 60, or the series would last longer than 26 weeks.
    """
    if not 1 <= weeks <= MOST_WEEKS or every < 1:
        raise ValueError(f"a series lasts 1 to {MOST_WEEKS} weeks, not {weeks}")
    found = [
        day
        for week in range(0, weeks, every)
        for offset in range(7)
        if (day := first + timedelta(weeks=week, days=offset)).weekday() in weekdays
    ]
    if not 1 <= len(found) <= MOST_VISITS:
        raise ValueError(f"a series has 1 to {MOST_VISITS} visits, not {len(found)}")
    return found


def spreads(per_week: int) -> list[frozenset[int]]:
    """Weekdays that `per_week` visits may fall on, those that lie furthest apart first; Monday to Friday up to five."""
    if not 1 <= per_week <= 7:
        raise ValueError(f"1 to 7 visits a week, not {per_week}")
    days = range(WORKING if per_week <= WORKING else 7)
    return [frozenset(chosen) for chosen in sorted(combinations(days, per_week), key=lambda each: (-_gap(each), each))]


def _gap(chosen: tuple[int, ...]) -> int:
    """The shortest distance between two of the weekdays, round the week."""
    return min((after - before) % 7 or 7 for before, after in zip(chosen, chosen[1:] + chosen[:1], strict=True))


def quarters(low: time, high: time) -> list[time]:
    """The quarter hours of a half-open span; a span of less than a quarter is one time."""
    if high.second == 59 and (high.hour, high.minute) == (low.hour, low.minute):
        return [low]
    every = [time(minute // 60, minute % 60) for minute in range(0, 24 * 60, 15)]
    return [at for at in every if low <= at < high] or [low]


def carried(was: datetime, new: datetime, other: datetime, zone: str) -> tuple[date, time]:
    """The local day and time another visit gets when one goes from `was` to `new`: as many days on, at the new time.

    Local, so that a clock change between them moves nothing.
    """
    place = zones.zone(zone)
    days = new.astimezone(place).date() - was.astimezone(place).date()
    return other.astimezone(place).date() + days, new.astimezone(place).time()
