"""The invented clinic's appointment book: finds free half hours inside the working hours, past and to come."""

from __future__ import annotations

import random
from datetime import date, datetime, timedelta

from clinic.people.rules import zones
from clinic.project.demo.practice import Practice

DAYS = ("MO", "TU", "WE", "TH", "FR", "SA", "SU")
HALF_HOUR = timedelta(minutes=30)


class Book:
    """Which half hours of which clinician are taken; the same dice give the same book."""

    def __init__(self, practice: Practice, dice: random.Random) -> None:
        self._zone, self._hours = practice.site.zone, practice.hours
        self._dice = dice
        self._taken: set[tuple[int, datetime]] = set()

    def keep(self, clinician: int, starts: datetime, ends: datetime) -> None:
        """Take every half hour that starts..ends touches."""
        at = starts - timedelta(minutes=starts.minute % 30)
        while at < ends:
            self._taken.add((clinician, at))
            at += HALF_HOUR

    def find(self, clinician: int, near: date, halves: int, latest: date) -> datetime | None:
        """A start on `near` or up to a week later, not past `latest`, with `halves` free half hours."""
        for offset in range(8):
            day = near + timedelta(days=offset)
            if day > latest:
                return None
            starts = self._starts(clinician, day, halves)
            if starts:
                start = self._dice.choice(starts)
                self._taken.update((clinician, start + step * HALF_HOUR) for step in range(halves))
                return start
        return None

    def _starts(self, clinician: int, day: date, halves: int) -> list[datetime]:
        days, opens, closes = self._hours[clinician]
        if DAYS[day.weekday()] not in days:
            return []
        first, last = zones.instant(day, opens, self._zone), zones.instant(day, closes, self._zone)
        count = (last - first) // HALF_HOUR - halves + 1
        candidates = [first + step * HALF_HOUR for step in range(count)]
        return [
            start
            for start in candidates
            if all((clinician, start + step * HALF_HOUR) not in self._taken for step in range(halves))
        ]
