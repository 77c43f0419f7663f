"""Weeks of several people in 5-minute ticks: what became of each, counted for all of them at once. No database.

Everybody's ticks stand one after another on one line. What begins or ends on it cuts it into pieces; a piece is open or taken
as a whole, so that the work grows with the visits and not with the ticks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from clinic.booking.rules.grid import CELL, Span

Array = np.ndarray[Any, Any]
FIELDS = ("open", "used", "missed", "stranded", "free", "outside", "places")


@dataclass(frozen=True, slots=True)
class Window:
    """`length` ticks from the cell `first` on; `weeks` are the ticks they begin at, `gone` ticks of them are over."""

    first: int
    length: int
    weeks: tuple[int, ...]
    gone: int


@dataclass(frozen=True, slots=True)
class Runs:
    """Spans of ticks from the window's first on, `stop` not included, each with the row of whom it concerns."""

    row: Array
    start: Array
    stop: Array


@dataclass(frozen=True, slots=True)
class Lengths:
    """In ticks: the shortest visit there is, and a reassessment (0: there is no such visit)."""

    shortest: int
    review: int


def inside(spans: Mapping[int, Sequence[Span]], rows: Mapping[int, int], window: Window) -> Runs:
    """The ticks that lie wholly inside a span: what open hours give."""
    row, begin, end = _seconds(spans, rows)
    return Runs(row, -(-begin // CELL) - window.first, end // CELL - window.first)


def touched(spans: Mapping[int, Sequence[Span]], rows: Mapping[int, int], window: Window) -> Runs:
    """The ticks that a span touches: what an absence takes."""
    row, begin, end = _seconds(spans, rows)
    return Runs(row, begin // CELL - window.first, -(-end // CELL) - window.first)


def _seconds(spans: Mapping[int, Sequence[Span]], rows: Mapping[int, int]) -> tuple[Array, Array, Array]:
    found = [(rows[key], begin.timestamp(), end.timestamp()) for key in rows for begin, end in spans.get(key, ())]
    table = np.array(found, dtype=float).reshape(-1, 3)
    return table[:, 0].astype(int), table[:, 1], table[:, 2]


@dataclass(frozen=True, slots=True)
class Pieces:
    """The line cut where anything begins or ends: of each piece its row, its first tick there, its ticks, what holds."""

    row: Array
    tick: Array
    ticks: Array
    holds: list[Array]


def counted(people: int, window: Window, hours: Runs, away: Runs, busy: Runs, missed: Runs, lengths: Lengths) -> Array:
    """Ticks by person, week and field of FIELDS; `places` are not ticks but how many reassessments fit one after another."""
    found = np.zeros((people, len(window.weeks), len(FIELDS)), dtype=int)
    if not people:
        return found
    pieces = _cut(people, window, (hours, away, busy, missed))
    open_, absent, taken, lost = pieces.holds
    open_ = open_ & ~absent
    lost = lost & open_ & ~taken
    left = open_ & ~taken & ~lost
    week = np.searchsorted(window.weeks, pieces.tick, side="right") - 1
    alive = (pieces.tick >= window.gone) & (pieces.tick < window.length)
    run, ticks = _runs(left, pieces.ticks)
    usable = left & (ticks[run] >= lengths.shortest)
    for place, part in enumerate((open_, taken & open_, lost, left & ~usable, usable, taken & ~open_)):
        chosen = part & alive
        np.add.at(found[:, :, place], (pieces.row[chosen], week[chosen]), pieces.ticks[chosen])
    if lengths.review:
        run, ticks = _runs(left & alive, pieces.ticks, np.isin(pieces.tick, window.weeks))
        first = np.nonzero(left & alive & np.concatenate([[True], run[1:] != run[:-1]]))[0]
        np.add.at(found[:, :, -1], (pieces.row[first], week[first]), ticks[run[first]] // lengths.review)
    return found


def _cut(people: int, window: Window, kinds: Sequence[Runs]) -> Pieces:
    """The pieces of everybody's line; each week, and what is over, begins one of its own."""
    stride = window.length + 1   # a tick between two people belongs to nobody: no run goes on from one to the next
    edges = np.unique([*window.weeks, min(window.gone, window.length), window.length])
    places = [(np.arange(people)[:, None] * stride + edges).ravel()]
    steps = [np.zeros((len(places[0]), len(kinds)), dtype=np.int32)]
    for number, kind in enumerate(kinds):
        low, high = (np.clip(each, 0, window.length).astype(int) for each in (kind.start, kind.stop))
        real = low < high
        for end, step in ((low, 1), (high, -1)):
            places.append(kind.row[real] * stride + end[real])
            steps.append(np.zeros((int(real.sum()), len(kinds)), dtype=np.int32))
            steps[-1][:, number] = step
    unsorted = np.concatenate(places)
    order = np.argsort(unsorted, kind="stable")
    place, level = unsorted[order], np.cumsum(np.concatenate(steps)[order], axis=0)
    ticks = np.diff(place, append=place[-1:])
    real = ticks > 0
    row, tick = np.divmod(place[real], stride)
    return Pieces(row, tick, ticks[real], [level[real, number] > 0 for number in range(len(kinds))])


def _runs(part: Array, ticks: Array, begins: Array | None = None) -> tuple[Array, Array]:
    """(the number of each piece's run, the ticks of each run): neighbours alike are one; `begins` start one in any case."""
    new = np.concatenate([[False], part[1:] != part[:-1]])
    if begins is not None:
        new |= begins
    run = np.cumsum(new)
    return run, np.bincount(run, weights=ticks, minlength=1).astype(int)
