"""Openings: start times that satisfy every resource at once, and their order with the reasons as codes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

import numpy as np

from clinic.booking.rules import grid as g
from clinic.people.rules import zones

STEP = 3          # ticks: an opening starts on a quarter of an hour, or flush with what is before it
PER_DAY = 3       # openings of one clinician on one day offered before others get their turn …
APART = timedelta(hours=2)   # … and how far apart those are


@dataclass(frozen=True)
class Length:
    """What a visit needs, in ticks: before (preparation), during, after (clean-up)."""

    before: int
    during: int
    after: int

    @property
    def whole(self) -> int:
        return self.before + self.during + self.after


@dataclass(frozen=True)
class Wish:
    """What is wished for: a due window of local days, a clinician, a span of local times. None: no wish."""

    earliest: date | None = None
    latest: date | None = None
    clinician: int | None = None
    hours: tuple[time, time] | None = None


@dataclass(frozen=True)
class Candidate:
    """One possible start. `stranded` counts the gaps beside it that would be too short for any visit."""

    clinician: int
    room: int
    starts: datetime
    day: date
    at: time
    stranded: int


class Ranked(NamedTuple):
    """A candidate in its place, with why it stands there."""

    candidate: Candidate
    reasons: tuple[str, ...]


@dataclass(frozen=True)
class Found:
    """Every start offered, as columns: clinician's place in `names`, tick of the grid at which the visit starts, day (from
    `days`), minute on the wall clock, gaps left. Only those that are shown become candidates."""

    grid: g.Grid
    zone: str
    names: Sequence[int]
    room_runs: Mapping[int, int]
    before: int
    days: Sequence[date]
    who: g.Array
    tick: g.Array
    day: g.Array
    minute: g.Array
    stranded: g.Array

    def __len__(self) -> int:
        return len(self.tick)

    def only(self, hours: tuple[time, time] | None, weekdays: frozenset[int]) -> Found:
        """Those that start within `hours` (half-open, local) on one of the `weekdays` (0 is Monday); None and none: any."""
        wanted = self.between(hours) if hours else np.ones(len(self), dtype=bool)
        if weekdays:
            wanted &= np.array([day.weekday() in weekdays for day in self.days], dtype=bool)[self.day]
        return replace(
            self, who=self.who[wanted], tick=self.tick[wanted], day=self.day[wanted], minute=self.minute[wanted],
            stranded=self.stranded[wanted],
        )

    def between(self, hours: tuple[time, time]) -> g.Array:
        """Which start within local times, half-open."""
        low, high = (at.hour * 60 + at.minute + (at.second > 0) for at in hours)
        return (self.minute >= low) & (self.minute < high)

    def candidate(self, at: int) -> Candidate:
        """One of them by name, in the first room that is free."""
        tick = int(self.tick[at])
        room = next(key for key, mask in self.room_runs.items() if mask >> (tick - self.before) & 1)
        starts = g.instant_of(self.grid.first + tick)
        local = starts.astimezone(zones.zone(self.zone))
        return Candidate(
            self.names[self.who[at]], room, starts, local.date(), local.time(), int(self.stranded[at])
        )

    def all(self) -> list[Candidate]:
        """Each of them, by clinician and time."""
        return [self.candidate(at) for at in range(len(self))]


def find(
    grid: g.Grid,
    length: Length,
    clinicians: Mapping[int, int],
    rooms: Mapping[int, int],
    client: int,
    *,
    not_before: datetime,
    shortest: int,
    zone: str,
) -> Found:
    """Every offered start. `clinicians` and `rooms` map a key to its free mask, `client` is the client's free mask.

    Rooms are tried in the order given. `shortest` is the shortest visit of the practice in ticks.
    """
    room_runs = {room: g.free_runs(free, length.whole) for room, free in rooms.items()}
    wanted = g.free_runs(client, length.during) >> length.before
    wanted &= ~(grid.touched([(grid.begin, not_before)]) >> length.before)
    any_room = 0
    for runs in room_runs.values():
        any_room |= runs
    wanted &= any_room
    columns = [_offered(grid, length, free, wanted, shortest) for free in clinicians.values()]
    who = np.repeat(np.arange(len(columns)), [len(ticks) for ticks, _ in columns])
    tick = np.concatenate([ticks for ticks, _ in columns]) if columns else np.array([], dtype=int)
    stranded = np.concatenate([gaps for _, gaps in columns]) if columns else np.array([], dtype=int)
    calendar = g.calendar_of(grid, zone)
    return Found(
        grid, zone, list(clinicians), room_runs, length.before, calendar.days, who, tick, calendar.day_of(tick),
        calendar.minute_of(tick), stranded,
    )


def _offered(grid: g.Grid, length: Length, free: int, wanted: int, shortest: int) -> tuple[g.Array, g.Array]:
    """Of one clinician: the ticks visits can start at, and the gaps that are left beside each."""
    begins = np.flatnonzero(g.bits(g.free_runs(free, length.whole) & wanted, grid.length))
    if not len(begins):
        return begins, begins
    edges = np.flatnonzero(np.diff(g.bits(free, grid.length).astype(np.int8), prepend=0, append=0))
    runs = np.searchsorted(edges, begins, side="right")   # edges come in pairs: where free time begins, where it ends
    before, after = begins - edges[runs - 1], edges[runs] - begins - length.whole
    ticks = begins + length.before
    shown = ((grid.first + ticks) % STEP == 0) | (before == 0)
    gaps = ((before > 0) & (before < shortest)).astype(int) + ((after > 0) & (after < shortest))
    return ticks[shown], gaps[shown]


def best(found: Found, wish: Wish, limit: int) -> list[Ranked]:
    """The first `limit` of what `rank` makes of all that was found, without making candidates of the others."""
    names = np.array(found.names, dtype=np.int64)
    order = np.lexsort((
        names[found.who] if len(names) else found.who, found.tick, found.stranded, found.day, ~_wished_time(found, wish),
        (names[found.who] != wish.clinician) if len(names) else found.who, np.abs(_outside(found, wish)),
    ))
    size = 3 * limit
    while True:
        candidates = [found.candidate(at) for at in order[:size].tolist()]
        spread, rest = _spread(candidates)
        if len(spread) >= limit or size >= len(order):
            return [Ranked(candidate, _reasons(candidate, wish)) for candidate in (spread + rest)[:limit]]
        size *= 4


def _outside(found: Found, wish: Wish) -> g.Array:
    far = [days_outside(day, wish.earliest, wish.latest) for day in found.days]
    return np.array(far, dtype=int)[found.day]


def _wished_time(found: Found, wish: Wish) -> g.Array:
    return np.zeros(len(found), dtype=bool) if wish.hours is None else found.between(wish.hours)


def rank(candidates: Iterable[Candidate], wish: Wish, limit: int) -> list[Ranked]:
    """The best `limit`: inside the due window, with the clinician wished for, at the time of day wished for, soonest
    day, fewest stranded gaps, earliest. Three of a clinician's day, two hours apart, come before all others."""
    spread, rest = _spread(sorted(candidates, key=lambda candidate: _key(candidate, wish)))
    return [Ranked(candidate, _reasons(candidate, wish)) for candidate in (spread + rest)[:limit]]


def _spread(ordered: Iterable[Candidate]) -> tuple[list[Candidate], list[Candidate]]:
    """Those that come before all others, and the others."""
    first: list[Candidate] = []
    rest: list[Candidate] = []
    chosen: dict[tuple[int, date], list[datetime]] = {}
    for candidate in ordered:
        beside = chosen.setdefault((candidate.clinician, candidate.day), [])
        apart = len(beside) < PER_DAY and all(abs(candidate.starts - other) >= APART for other in beside)
        (first if apart else rest).append(candidate)
        if apart:
            beside.append(candidate.starts)
    return first, rest


def days_outside(day: date, earliest: date | None, latest: date | None) -> int:
    """Days before the window (negative), after it (positive), or 0 inside it."""
    if earliest and day < earliest:
        return (day - earliest).days
    if latest and day > latest:
        return (day - latest).days
    return 0


def _preferred(candidate: Candidate, wish: Wish) -> bool:
    return wish.hours is not None and wish.hours[0] <= candidate.at < wish.hours[1]


def _key(candidate: Candidate, wish: Wish) -> tuple[int, bool, bool, date, int, datetime, int]:
    return (
        abs(days_outside(candidate.day, wish.earliest, wish.latest)),
        candidate.clinician != wish.clinician,
        not _preferred(candidate, wish),
        candidate.day,
        candidate.stranded,
        candidate.starts,
        candidate.clinician,
    )


def _reasons(candidate: Candidate, wish: Wish) -> tuple[str, ...]:
    codes = []
    if wish.earliest or wish.latest:
        outside = days_outside(candidate.day, wish.earliest, wish.latest)
        codes.append("in_window" if not outside else "before_window" if outside < 0 else "after_window")
    if candidate.clinician == wish.clinician:
        codes.append("same_clinician")
    if _preferred(candidate, wish):
        codes.append("usual_time")
    codes.append("no_gap" if not candidate.stranded else "leaves_gap")
    return tuple(codes)
