"""Rows of one episode's timeline: days, levels, revisions, pauses, visits, measures. Plain values on one axis of days."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from statistics import mean
from typing import Literal

from programs.prescribing.rules.diff import Change

PAIN_ANSWERS = 3   # one answer says little of where somebody stands (common practice, no source)
DayKind = Literal["done", "zero", "silent", "waiting", "paused", "rest"]
# what a visit came to: kept, missed, cancelled, to come, or past and never closed
VisitKind = Literal["kept", "missed", "cancelled", "coming", "unclosed"]


@dataclass(frozen=True, slots=True)
class DayRow:
    """One day of the home program. Times are seconds; pain and effort 0-10, None when nobody answered.

    `done` has something logged, `zero` was logged as not done, `silent` has no log, `waiting` is today without one yet,
    `paused` does not count, `rest` asks for nothing (and may hold something done all the same).
    """

    day: date
    kind: DayKind
    phase: str
    asked: int
    sessions: int
    minimum: int
    full: int
    done: int
    credit: float
    pain: int | None
    morning: int | None
    effort: int | None


@dataclass(frozen=True, slots=True)
class Dose:
    """`share` 0-1 of the dose; sessions done and asked for with Wilson's 95 % interval; days by what was said of them."""

    share: float | None
    done: int
    asked: int
    interval: tuple[float, float] | None
    silent: int
    zero: int
    paused: int


@dataclass(frozen=True, slots=True)
class LevelRun:
    """Days `first`..`last`, both included, on which an exercise stood at one of its `levels`. `lane` is the item's own."""

    lane: str
    exercise: str
    level: int
    levels: int
    first: date
    last: date


@dataclass(frozen=True, slots=True)
class RevisionRow:
    """A revision on the day it counts from, with what it changed."""

    day: date
    number: int
    program: str
    author: str
    reason: str
    changes: tuple[Change, ...]


@dataclass(frozen=True, slots=True)
class PauseRow:
    """Days `first` up to and including `last`; `open` while it goes on."""

    first: date
    last: date
    open: bool
    reason: str


@dataclass(frozen=True, slots=True)
class VisitRow:
    """One appointment on its day at the site."""

    day: date
    kind: VisitKind
    name: str
    clinician: str


@dataclass(frozen=True, slots=True)
class MeasureLine:
    """One measure on one side, oldest value first; `mdc` and `mcid` are sizes in its unit, None when unpublished."""

    name: str
    side: str
    unit: str
    higher_is_better: bool
    mdc: float | None
    mcid: float | None
    points: tuple[tuple[date, float], ...]

    @property
    def error(self) -> tuple[float, float] | None:
        """Values that cannot be told from the first one: within one MDC of it."""
        first = self.points[0][1]
        return None if self.mdc is None else (first - self.mdc, first + self.mdc)

    @property
    def goal(self) -> float | None:
        """The value from which on a change for the better matters to people: one MCID from the first, past the error."""
        if self.mcid is None:
            return None
        size = max(self.mcid, self.mdc or 0.0)
        return self.points[0][1] + (size if self.higher_is_better else -size)


@dataclass(frozen=True, slots=True)
class Timeline:
    """Everything of one episode from `first` to `last`, both included. `cut` says that older days were left out."""

    first: date
    last: date
    today: date
    cut: bool
    dose: Dose
    days: tuple[DayRow, ...]
    levels: tuple[LevelRun, ...]
    revisions: tuple[RevisionRow, ...]
    pauses: tuple[PauseRow, ...]
    visits: tuple[VisitRow, ...]
    measures: tuple[MeasureLine, ...]
    names: dict[str, str]

    @property
    def empty(self) -> bool:
        return not (self.days or self.visits or self.measures or self.revisions)

    @property
    def pain(self) -> tuple[float, float] | None:
        """Mean of the first and of the last PAIN_ANSWERS answers about pain in a session; None while these overlap."""
        answers = [row.pain for row in self.days if row.pain is not None]
        if len(answers) < 2 * PAIN_ANSWERS:
            return None
        return mean(answers[:PAIN_ANSWERS]), mean(answers[-PAIN_ANSWERS:])


def lanes(runs: Sequence[LevelRun]) -> dict[str, list[LevelRun]]:
    """Runs by lane, in the order in which the lanes began."""
    found: dict[str, list[LevelRun]] = {}
    for run in sorted(runs, key=lambda run: (run.first, run.exercise)):
        found.setdefault(run.lane, []).append(run)
    return found

