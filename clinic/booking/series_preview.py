"""A series before it is booked: each date with whether it is good, and why not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from clinic.booking import availability, groups
from clinic.booking.models import VisitType
from clinic.booking.rules import grid as g
from clinic.booking.rules import series as rules
from clinic.people.models import Client, Site, Staff
from clinic.people.rules import zones


@dataclass(frozen=True)
class Planned:
    """One date. `problem` is None when it is good, else in_the_past, nonexistent_time, ambiguous_time, outside_hours,
    clinician, client or room (taken), group (none with a place meets then)."""

    day: date
    at: time
    problem: str | None


class Board:
    """The free time of one clinician, the rooms and the client (if any) from `first` to `last`. Seven queries, of a kind
    with places eleven."""

    def __init__(
        self, *, client: Client | None, site: Site, visit_type: VisitType, clinician: Staff, first: date, last: date,
        now: datetime,
    ) -> None:
        self.zone, self.now, self.kind = site.zone, now, visit_type
        self.grid = g.days_grid(first - timedelta(days=1), last + timedelta(days=1), site.zone)
        self.meet = {
            group.starts for group in groups.open_groups(site, visit_type, [clinician.pk], self.grid, now, apart_from=None)
        } if visit_type.is_group else None
        rooms = availability.suitable_rooms(site, visit_type)
        keys = [room.pk for room in rooms]
        taken = availability.busy([clinician.pk], keys, client, self.grid.begin, self.grid.end)
        nothing = availability.Busy({clinician.pk: []}, {}, [])
        self.there = availability.free_masks(self.grid, [clinician.pk], site, nothing)[clinician.pk]
        self.clinician = self.grid.full & ~self.grid.touched(taken.clinicians[clinician.pk])
        self.client = self.grid.full & ~self.grid.touched(taken.client)
        self.rooms = [self.grid.full & ~self.grid.touched(taken.rooms[key]) for key in keys]

    def look(self, day: date, at: time) -> Planned:
        """How a visit on that local day and time stands."""
        try:
            start = zones.instant(day, at, self.zone)
        except zones.LocalTimeProblem as problem:
            return Planned(day, at, problem.code)
        return Planned(day, at, self._problem(start))

    def _problem(self, start: datetime) -> str | None:
        inner, around = availability.spans_of(self.kind, start)
        visit, busy = self.grid.touched([inner]), self.grid.touched([around])
        if start < self.now:
            return "in_the_past"
        if busy & ~self.there:
            return "outside_hours"
        if self.meet is None and busy & ~self.clinician:
            return "clinician"
        if visit & ~self.client:
            return "client"
        if self.meet is not None:
            return None if start in self.meet else "group"
        return None if any(not busy & ~free for free in self.rooms) else "room"


def plan(
    board: Board, *, first: date, weekdays: frozenset[int], per_week: int, weeks: int, every: int, hours: tuple[time, time]
) -> list[Planned]:
    """The dates of the rhythm at the one time of day, on the weekdays, at which most of them are good.

    ValueError for a rhythm that is no series.
    """
    best: list[Planned] = []
    most = -1
    for chosen in [weekdays] if weekdays else rules.spreads(per_week or 1):
        days = rules.days_of(first, chosen, weeks, every)
        for at in rules.quarters(*hours):
            looked = [board.look(day, at) for day in days]
            good = sum(each.problem is None for each in looked)
            if good > most:
                best, most = looked, good
            if good == len(days):
                return looked
    return best
