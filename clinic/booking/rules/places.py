"""Where each of many visits could go, and what that would cost; the ground that `replacing` chooses from.

The cost of a place is a sum of whole points, each named, so that a page can say why a visit went where it did. The weights
are our own judgement (common practice, no source): a day is the unit, and leaving a visit out costs more than any place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

import numpy as np

from clinic.booking.rules import grid as g
from clinic.booking.rules.grid import Array
from clinic.booking.rules.openings import STEP, Length
from clinic.people.rules import zones

DAY = 10             # a day earlier or later than before
OUTSIDE = 15         # a day outside the reassessment's window, on top …
OUTSIDE_DAYS = 20    # … counted up to so many days
OTHER = 30           # with another clinician
QUARTER = 1          # each quarter of an hour begun, earlier or later in the day than before …
QUARTERS = 12        # … counted up to three hours
GAP = 3              # a gap beside it that is too short for any visit, seen against the visits that stay
ODD = 1              # where any start will do: one that is not on a quarter of an hour
LEFT_OUT = 1000      # without a place; at most `LONGEST` days are searched, so that no place costs as much
LONGEST = 35         # days that one search covers, and the farthest that a place lies from the old day


@dataclass(frozen=True)
class Job:
    """A visit that needs a place. `day` and `minute` (of the day, local) are where it was or is due; `minute` None: any.

    `rooms` are the suitable ones, the plainest first. `taken` are the client's visits that stay, `not_on` days that are no
    use. `inside`: only within the window. `clinicians`: nobody else may take it.
    """

    key: int
    client: int
    clinician: int
    day: date
    minute: int | None
    length: Length
    rooms: tuple[int, ...]
    earliest: date | None = None
    latest: date | None = None
    inside: bool = False
    clinicians: frozenset[int] | None = None
    taken: tuple[g.Span, ...] = ()
    not_on: frozenset[date] = frozenset()


@dataclass(frozen=True)
class Book:
    """The free masks of clinicians and rooms on a grid of local days, without the visits that need a place.

    `shortest` is the shortest visit of the practice in ticks. `left_out` is what a visit without a place costs: above all
    that the others can cost together, as many as can be get one. `any_start`: visits may start off the quarter hours as
    well, which fits more of them in.
    """

    grid: g.Grid
    zone: str
    clinicians: Mapping[int, int]
    rooms: Mapping[int, int]
    not_before: datetime
    shortest: int
    left_out: int = LEFT_OUT
    any_start: bool = False


@dataclass
class Ground:
    """The book as arrays. `names` are the clinicians' keys in order; `day_of` and `minute_of` go by tick of the grid."""

    book: Book
    names: list[int]
    free: Array
    days: list[date]
    day_of: Array
    minute_of: Array
    kinds: dict[tuple[Length, tuple[int, ...]], Kind] = field(default_factory=dict)

    def kind(self, job: Job) -> Kind:
        """What all visits of one length and one choice of rooms have in common."""
        key = (job.length, job.rooms)
        if key not in self.kinds:
            self.kinds[key] = _kind(self, *key)
        return self.kinds[key]


@dataclass(frozen=True)
class Kind:
    """Possible begins (ticks of the grid, preparation included) and, by clinician and begin, whether it fits and its gaps."""

    begins: Array
    starts: Array
    fits: Array
    gaps: Array


def ground_of(book: Book) -> Ground:
    """The book laid out for counting."""
    names, length = sorted(book.clinicians), book.grid.length
    calendar, ticks = g.calendar_of(book.grid, book.zone), np.arange(length)
    free = np.array([g.bits(book.clinicians[name], length) for name in names]).reshape(len(names), length)
    return Ground(book, names, free, calendar.days, calendar.day_of(ticks), calendar.minute_of(ticks))


def _kind(ground: Ground, length: Length, rooms: tuple[int, ...]) -> Kind:
    book, size = ground.book, ground.book.grid.length
    room = 0
    for name in rooms:
        room |= g.free_runs(book.rooms[name], length.whole)
    late = ~book.grid.touched([(book.grid.begin, book.not_before)]) >> length.before
    ticks = np.arange(size)
    quarter = (book.grid.first + ticks + length.before) % STEP == 0
    allowed = g.bits(room & late & book.grid.full, size)
    left, right = _runs(ground.free)
    fits, gaps = [], []
    for number, name in enumerate(ground.names):
        runs = g.bits(g.free_runs(book.clinicians[name], length.whole), size) & allowed
        before = left[number]
        after = right[number][np.minimum(ticks + length.whole, size)]
        fits.append(runs if book.any_start else runs & (quarter | (before == 0)))
        gaps.append(((before > 0) & (before < book.shortest)).astype(int) + ((after > 0) & (after < book.shortest)))
    fit = np.array(fits, dtype=bool).reshape(len(ground.names), size)
    begins = np.flatnonzero(fit.any(axis=0))
    gap = np.array(gaps, dtype=np.int16).reshape(len(ground.names), size)
    return Kind(begins, begins + length.before, fit[:, begins], gap[:, begins])


def _runs(free: Array) -> tuple[Array, Array]:
    """By tick, how many free ticks in a row end just before it, and how many begin with it (one entry more)."""
    count, size = free.shape
    ticks = np.arange(size)
    last = np.maximum.accumulate(np.where(free, -1, ticks), axis=1)
    left = ticks - 1 - np.hstack([np.full((count, 1), -1), last[:, :-1]])
    after = np.minimum.accumulate(np.where(free, size, ticks)[:, ::-1], axis=1)[:, ::-1]
    return left, np.hstack([after - ticks, np.zeros((count, 1), dtype=after.dtype)])


def costs(ground: Ground, job: Job) -> Array:
    """Points by clinician and possible begin of its kind; -1 where it cannot be."""
    kind = ground.kind(job)
    days = ground.day_of[kind.starts]
    old = (job.day - ground.days[0]).days
    by_begin = DAY * np.abs(days - old) + OUTSIDE * np.minimum(_outside(ground, job, days), OUTSIDE_DAYS)
    if job.minute is not None:
        apart = -(-np.abs(ground.minute_of[kind.starts] - job.minute) // 15)
        by_begin = by_begin + QUARTER * np.minimum(apart, QUARTERS)
    if ground.book.any_start:
        by_begin = by_begin + ODD * (ground.minute_of[kind.starts] % 15 > 0)
    others = np.array([OTHER * (name != job.clinician) for name in ground.names], dtype=np.int32)
    points = others[:, None] + by_begin[None, :] + GAP * kind.gaps
    possible = kind.fits & _client_free(ground, job, kind)[None, :] & (np.abs(days - old) <= LONGEST)[None, :]
    if job.clinicians is not None:
        possible &= np.array([name in job.clinicians for name in ground.names], dtype=bool)[:, None]
    if job.inside:
        possible &= (_outside(ground, job, days) == 0)[None, :]
    return np.where(possible, points, -1).astype(np.int32)


def _outside(ground: Ground, job: Job, days: Array) -> Array:
    far = np.zeros(len(days), dtype=np.int32)
    if job.earliest is not None:
        far = np.maximum(far, (job.earliest - ground.days[0]).days - days)
    if job.latest is not None:
        far = np.maximum(far, days - (job.latest - ground.days[0]).days)
    return far


def _client_free(ground: Ground, job: Job, kind: Kind) -> Array:
    """No clash with visits that stay, and nobody is called in on a day of such a visit unless both were on one day."""
    free = np.ones(len(kind.begins), dtype=bool)
    first = ground.book.grid.first
    for span in job.taken:
        taken = g.cells(*span)
        free &= (kind.starts >= taken.stop - first) | (kind.starts + job.length.during <= taken.start - first)
        day = zones.day_in(span[0], ground.book.zone)
        if day != job.day:
            free &= ground.day_of[kind.starts] != (day - ground.days[0]).days
    for day in job.not_on:
        free &= ground.day_of[kind.starts] != (day - ground.days[0]).days
    return free


def parts(ground: Ground, job: Job, clinician: int, begin: int) -> tuple[tuple[str, int], ...]:
    """What a place is made of: codes with the number of days, minutes or gaps behind them. They explain `costs`."""
    kind = ground.kind(job)
    column = int(np.searchsorted(kind.begins, begin))
    tick = begin + job.length.before
    moved = int(ground.day_of[tick]) - (job.day - ground.days[0]).days
    found = [("same_day", 0) if not moved else ("later", moved) if moved > 0 else ("earlier", -moved)]
    if job.earliest is not None or job.latest is not None:
        outside = int(_outside(ground, job, ground.day_of[[tick]])[0])
        found.append(("outside_window", outside) if outside else ("in_window", 0))
    found.append(("same_clinician", 0) if clinician == job.clinician else ("other_clinician", 0))
    if job.minute is not None:
        apart = abs(int(ground.minute_of[tick]) - job.minute)
        found.append(("other_time", apart) if apart else ("same_time", 0))
    if ground.book.any_start and ground.minute_of[tick] % 15:
        found.append(("odd_start", 1))
    gaps = int(kind.gaps[ground.names.index(clinician), column])
    return (*found, ("leaves_gap", gaps)) if gaps else tuple(found)


def points_of(found: Sequence[tuple[str, int]]) -> int:
    """The points that those parts add up to."""
    weight = {"later": DAY, "earlier": DAY, "leaves_gap": GAP, "odd_start": ODD}
    total = 0
    for code, number in found:
        if code == "outside_window":
            total += OUTSIDE * min(number, OUTSIDE_DAYS)
        elif code == "other_clinician":
            total += OTHER
        elif code == "other_time":
            total += QUARTER * min(-(-number // 15), QUARTERS)
        else:
            total += weight.get(code, 0) * number
    return total
