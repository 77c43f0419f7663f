"""Time as a grid of 5-minute ticks; a resource's days as one integer, a bit for each tick, 1 where it is free.

Cells are counted from 1970-01-01T00:00Z, so that a day of 23 or 25 hours and a span across midnight need no care.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from clinic.people.rules import zones

CELL = 300   # seconds
Span = tuple[datetime, datetime]


def cell_of(at: datetime) -> int:
    """The cell an aware instant lies in."""
    return int(at.timestamp() // CELL)


def instant_of(cell: int) -> datetime:
    """The UTC instant a cell begins at."""
    return datetime.fromtimestamp(cell * CELL, UTC)


def on_grid(at: datetime) -> bool:
    """Whether an instant is the beginning of a cell."""
    return at.timestamp() % CELL == 0


def cells(starts: datetime, ends: datetime) -> range:
    """Every cell that the half-open span starts..ends touches."""
    return range(cell_of(starts), -int(-ends.timestamp() // CELL))


def ticks(minutes: int) -> int:
    """How many ticks that many minutes need, a begun one counted whole."""
    return -(-minutes * 60 // CELL)


def overlaps(one: Span, other: Span) -> bool:
    """Whether two half-open spans share a moment; one that ends as the other starts does not."""
    return one[0] < other[1] and other[0] < one[1]


@dataclass(frozen=True)
class Grid:
    """`length` ticks from cell `first` on. Masks are relative to it: bit 0 is cell `first`."""

    first: int
    length: int

    @property
    def full(self) -> int:
        """The mask with every tick free."""
        return (1 << self.length) - 1

    @property
    def begin(self) -> datetime:
        """The instant the first tick begins at."""
        return instant_of(self.first)

    @property
    def end(self) -> datetime:
        """The instant the last tick ends at."""
        return instant_of(self.first + self.length)

    def covered(self, spans: Iterable[Span]) -> int:
        """Ticks that lie wholly inside one of the spans: what open hours give."""
        mask = 0
        for starts, ends in spans:
            mask |= self._bits(-int(-starts.timestamp() // CELL), cell_of(ends))
        return mask

    def touched(self, spans: Iterable[Span]) -> int:
        """Ticks that any of the spans touches: what a booking or an absence takes."""
        mask = 0
        for starts, ends in spans:
            taken = cells(starts, ends)
            mask |= self._bits(taken.start, taken.stop)
        return mask

    def instants(self, mask: int) -> Iterator[datetime]:
        """The beginnings of the ticks set in a mask, in order."""
        for index in indices(mask):
            yield instant_of(self.first + index)

    def _bits(self, start: int, stop: int) -> int:
        low, high = max(start - self.first, 0), min(stop - self.first, self.length)
        return ((1 << (high - low)) - 1) << low if high > low else 0


def days_grid(first_day: date, last_day: date, zone: str) -> Grid:
    """The grid of the local days first..last, both included: 276, 288 or 300 ticks for each."""
    begin, _ = zones.day_bounds(first_day, zone)
    end, _ = zones.day_bounds(last_day + timedelta(days=1), zone)
    taken = cells(begin, end)
    return Grid(taken.start, len(taken))


def free_runs(free: int, length: int) -> int:
    """The ticks at which `length` free ticks in a row begin."""
    done = 1
    while done < length:
        step = min(done, length - done)
        free &= free >> step
        done += step
    return free


def indices(mask: int) -> Iterator[int]:
    """The positions of the set bits, lowest first."""
    text = f"{mask:b}"[::-1]
    found = text.find("1")
    while found >= 0:
        yield found
        found = text.find("1", found + 1)


def room_around(free: int, start: int, length: int) -> tuple[int, int]:
    """How many free ticks lie in a row just before and just after the run start..start+length."""
    below = ~free & ((1 << start) - 1)
    above = ~(free >> (start + length))
    return start - below.bit_length(), (above & -above).bit_length() - 1
