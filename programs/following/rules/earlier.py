"""What the days before a window come to, so that a state can be worked out from the window's days alone.

A window begins on a day with an answer, or on the first day of all: no silence reaches into it from before.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from functools import reduce
from operator import add

from programs.following.rules.adherence import Counted, Tally, tally
from programs.following.rules.course import PauseSpan

NONE = Tally()


@dataclass(frozen=True, slots=True)
class EarlierRun:
    """One unbroken run of days in a phase as far as it lies before the window.

    `lived` are its days and those after it up to the window that were not paused; `kept` and `lapsed` as in rules.runs.
    """

    kind: str
    first: date
    last: date
    sums: Tally
    lived: int
    kept: int
    lapsed: bool

    @property
    def over(self) -> bool:
        """Whether the long silence lies before the window, so that nothing in it changes `kept`."""
        return self.lapsed and self.kept <= self.lived


@dataclass(frozen=True, slots=True)
class Earlier:
    """The runs before the window, oldest first; `goes_on`: the last of them reaches into it. `pain` is the newest answer."""

    runs: tuple[EarlierRun, ...] = ()
    goes_on: bool = False
    pain: int | None = None

    @property
    def total(self) -> Tally:
        """All days before the window."""
        return reduce(add, (run.sums for run in self.runs), NONE)

    @property
    def phase(self) -> Tally:
        """The days before the window of the run that goes on into it."""
        return self.runs[-1].sums if self.goes_on else NONE


@dataclass(frozen=True, slots=True)
class KnownRun:
    """A run as it is stored: worked out on `as_of` from days through its `last`."""

    kind: str
    first: date
    last: date
    sums: Tally
    kept: int
    lapsed: bool


def earlier_of(
    known: Sequence[KnownRun], window: date, held: Iterable[Counted], as_of: date, pauses: Sequence[PauseSpan],
    pain: int | None,
) -> Earlier:
    """What stored runs hold of the days before `window`: what `held`, the window's days as of then, gave is taken off."""
    runs: list[EarlierRun] = []
    goes_on = False
    for run in known:
        if run.first >= window:
            continue
        sums = run.sums
        if run.last >= window:
            goes_on = True
            sums -= tally((day for day in held if day.day <= run.last), as_of)
        lived = (window - run.first).days - paused_days(pauses, run.first, window)
        runs.append(EarlierRun(run.kind, run.first, run.last, sums, lived, run.kept, run.lapsed))
    return Earlier(tuple(runs), goes_on, pain)


def paused_days(pauses: Sequence[PauseSpan], first: date, until: date) -> int:
    """How many days from `first` up to but not including `until` lie in a pause; a day in two pauses counts once."""
    count, reached = 0, first
    for pause in sorted(pauses, key=lambda pause: pause.first):
        begins, ends = max(pause.first, reached), min(pause.until or until, until)
        if begins < ends:
            count, reached = count + (ends - begins).days, ends
    return count
