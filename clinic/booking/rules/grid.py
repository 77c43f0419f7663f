"""Time as a grid of 5-minute ticks; a resource's days as one integer, a bit for each tick, 1 where it is free.

Cells are counted from 1970-01-01T00:00Z, so that a day of 23 or 25 hours and a span across midnight need no care.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from typing import Any

import numpy as np

from clinic.people.rules import zones

CELL = 300   # seconds
DAY = 288    # cells of a day on which the clock does not change
Array = np.ndarray[Any, Any]
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
        seconds = _seconds(spans, self.first * CELL)
        return self._mask(-(-seconds[0::2] // CELL), seconds[1::2] // CELL)

    def touched(self, spans: Iterable[Span]) -> int:
        """Ticks that any of the spans touches: what a booking or an absence takes."""
        seconds = _seconds(spans, self.first * CELL)
        return self._mask(seconds[0::2] // CELL, -(-seconds[1::2] // CELL))

    def instants(self, mask: int) -> Iterator[datetime]:
        """The beginnings of the ticks set in a mask, in order."""
        for index in indices(mask):
            yield instant_of(self.first + index)

    def _mask(self, starts: Array, stops: Array) -> int:
        """The ticks of any of the runs start..stop, counted from the first."""
        low = np.clip(starts, 0, self.length).astype(int).tolist()
        high = np.clip(stops, 0, self.length).astype(int).tolist()
        ticks = bytearray(self.length)   # filling bytes is quicker than shifting integers of thousands of bits
        for start, stop in zip(low, high, strict=True):
            if start < stop:
                ticks[start:stop] = b"\1" * (stop - start)
        return mask_of(np.frombuffer(ticks, dtype=np.uint8))


def _seconds(spans: Iterable[Span], first: int) -> Array:
    """Begin, end, begin, end … in seconds after `first`."""
    return np.array([at.timestamp() for span in spans for at in span]) - first


def bits(mask: int, length: int) -> Array:
    """A mask as an array of booleans, lowest bit first."""
    raw = np.frombuffer(mask.to_bytes((length + 7) // 8, "little"), dtype=np.uint8)
    return np.unpackbits(raw, bitorder="little", count=length).astype(bool)


def mask_of(free: Array) -> int:
    """An array of booleans as a mask."""
    return int.from_bytes(np.packbits(free, bitorder="little").tobytes(), "little")


@dataclass(frozen=True)
class Calendar:
    """The local days of a grid and the ticks each begins at; on days of a clock change, the wall clock tick by tick."""

    days: list[date]
    begins: Array
    changed: dict[int, Array]

    def day_of(self, ticks: Array) -> Array:
        """Which of the days ticks lie on."""
        return np.searchsorted(self.begins, ticks, side="right") - 1

    def minute_of(self, ticks: Array) -> Array:
        """The minutes since midnight that the wall clock shows."""
        day = self.day_of(ticks)
        minutes = (ticks - self.begins[day]) * (CELL // 60)
        for number, walls in self.changed.items():
            here = day == number
            minutes[here] = walls[ticks[here] - self.begins[number]]
        return minutes


def calendar_of(grid: Grid, zone: str) -> Calendar:
    """The grid's days in that zone."""
    first, last = zones.day_in(grid.begin, zone), zones.day_in(instant_of(grid.first + grid.length - 1), zone)
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    begins = [cell_of(zones.day_bounds(day, zone)[0]) - grid.first for day in [*days, last + timedelta(days=1)]]
    place, changed = zones.zone(zone), {}
    for number, (start, end) in enumerate(pairwise(begins)):
        if end - start != DAY:
            walls = [instant_of(grid.first + tick).astimezone(place) for tick in range(start, end)]
            changed[number] = np.array([wall.hour * 60 + wall.minute for wall in walls])
    return Calendar(days, np.array(begins[:-1]), changed)


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
