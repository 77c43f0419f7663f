"""Rows of the charts, and how they are counted: plain values that the figures and the tables share."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Literal
from uuid import UUID

BAND_ORDER = ("silent", "low", "partly", "on_track", "new", "paused")
PHASES = ("not_begun", "kick_off", "taper", "maintenance", "paused")
CellKind = Literal["share", "zero", "silent", "paused", "nothing"]
AGES: tuple[tuple[int, int | None], ...] = ((1, 7), (8, 14), (15, 28), (29, None))      # days overdue, both included
TIMES: tuple[tuple[int, int | None], ...] = ((0, 13), (14, 27), (28, 41), (42, None))   # days at a level, both included
STUCK_DAYS = 28   # at one level with a harder one there (common practice, no source)


@dataclass(frozen=True, slots=True)
class WeekCell:
    """A program's week or day: `share` 0-1 of the dose asked for (None: neither share nor zero), sessions, silent days.

    Kinds: zero was logged as not done, silent has no log at all, paused, nothing asked for (or not counted yet).
    """

    kind: CellKind
    share: float | None = None
    done: int = 0
    asked: int = 0
    silent_days: int = 0


@dataclass(frozen=True, slots=True)
class ProgramLine:
    """One program as the heat map lists it; `phase` is a phase kind, `paused` or `not_begun`."""

    pk: int
    program_id: UUID
    client: str
    client_id: UUID
    title: str
    clinician: str
    band: str
    phase: str
    adherence_7: float | None


@dataclass(frozen=True, slots=True)
class AdherenceRow:
    """A line with its weeks or days, oldest first; `pattern` (of read_models.patterns) of days only."""

    line: ProgramLine
    cells: tuple[WeekCell, ...]
    pattern: str = ""


@dataclass(frozen=True, slots=True)
class OverdueRow:
    """One review that is overdue by `days`, of the clinician who leads the episode."""

    review_id: UUID
    client: str
    client_id: UUID
    clinician: str
    reason: str
    due: date
    days: int

    @property
    def age(self) -> int:
        """Which of AGES."""
        return next(index for index, (_, last) in enumerate(AGES) if last is None or self.days <= last)


@dataclass(frozen=True, slots=True)
class WeekDue:
    """Open reviews due in the week that begins on `monday` (this week: from today on)."""

    monday: date
    booked: int
    unbooked: int


@dataclass(frozen=True, slots=True)
class Overdue:
    """How many reviews are overdue: by (clinician, index of AGES), by (reason, index of AGES), and the longest in days."""

    by_clinician: Counter[tuple[str, int]]
    by_reason: Counter[tuple[str, int]]
    longest: int


@dataclass(frozen=True, slots=True)
class ItemRow:
    """One exercise of a running program: at `level` of `levels` since a revision, `days` ago. A pause is not taken off."""

    client: str
    client_id: UUID
    program: str
    program_id: UUID
    clinician: str
    exercise: str
    level: int
    levels: int
    since: date
    days: int
    paused: bool
    why: str = ""                 # a code of figures.progression.WHY, where it was asked for

    @property
    def time(self) -> int:
        """Which of TIMES."""
        return next(index for index, (_, last) in enumerate(TIMES) if last is None or self.days <= last)

    @property
    def stuck(self) -> bool:
        """Long at this level although a harder one is there; never while paused."""
        return self.days >= STUCK_DAYS and self.level < self.levels and not self.paused


@dataclass(frozen=True, slots=True)
class Decided:
    """What became of the suggestions of one kind. Outdated: the reason was gone before anybody decided."""

    kind: str
    open: int
    accepted: int
    altered: int
    declined: int
    outdated: int

    @property
    def answered(self) -> int:
        return self.accepted + self.altered + self.declined


@dataclass(frozen=True, slots=True)
class MonthRow:
    """How many were in a phase (its kind), or at a level (its number), on each day asked for, oldest first."""

    name: str
    counts: tuple[int, ...]
