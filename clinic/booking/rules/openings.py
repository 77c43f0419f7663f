"""Openings: start times that satisfy every resource at once, and their order with the reasons as codes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import NamedTuple

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
) -> list[Candidate]:
    """Every offered start. `clinicians` and `rooms` map a key to its free mask, `client` is the client's free mask.

    Rooms are tried in the order given. `shortest` is the shortest visit of the practice in ticks.
    """
    client_runs = g.free_runs(client, length.during) >> length.before
    room_runs = {room: g.free_runs(free, length.whole) for room, free in rooms.items()}
    wanted = client_runs & ~grid.touched([(grid.begin, not_before)])
    found: list[Candidate] = []
    for clinician, free in clinicians.items():
        runs = g.free_runs(free, length.whole) & wanted
        for index in g.indices(runs):
            cell = grid.first + index + length.before
            before, after = g.room_around(free, index, length.whole)
            if cell % STEP and before:
                continue
            room = next((key for key, mask in room_runs.items() if mask >> index & 1), None)
            if room is None:
                continue
            starts = g.instant_of(cell)
            local = starts.astimezone(zones.zone(zone))
            stranded = (0 < before < shortest) + (0 < after < shortest)
            found.append(Candidate(clinician, room, starts, local.date(), local.time(), stranded))
    return found


def rank(candidates: Iterable[Candidate], wish: Wish, limit: int) -> list[Ranked]:
    """The best `limit`: inside the due window, with the clinician wished for, at the time of day wished for, soonest
    day, fewest stranded gaps, earliest. Three of a clinician's day, two hours apart, come before all others."""
    first: list[Candidate] = []
    rest: list[Candidate] = []
    chosen: dict[tuple[int, date], list[datetime]] = {}
    for candidate in sorted(candidates, key=lambda candidate: _key(candidate, wish)):
        beside = chosen.setdefault((candidate.clinician, candidate.day), [])
        spread = len(beside) < PER_DAY and all(abs(candidate.starts - other) >= APART for other in beside)
        (first if spread else rest).append(candidate)
        if spread:
            beside.append(candidate.starts)
    return [Ranked(candidate, _reasons(candidate, wish)) for candidate in (first + rest)[:limit]]


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
