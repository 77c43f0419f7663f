"""Rows of what was asked and what came of it: by minutes, by phase, by exercise. Plain values."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from programs.following.rules.intervals import wilson
from programs.following.rules.line import Line, least_squares, mean_interval

MINUTES: tuple[tuple[int, int | None], ...] = ((0, 10), (10, 15), (15, 20), (20, 30), (30, None))   # from, below
ON_TRACK, PARTLY = 0.8, 0.5       # shares of the dose; see programs.following.rules.adherence
LEAST_DAYS = 7                    # days that count, below which a program says nothing (common practice, no source)
LEAST_SESSIONS = 10               # sessions that asked for it, below which an exercise is not named
SKIPS = ("pain", "no_time", "forgot", "unwell", "no_equipment")
UNEVEN = 0.8                      # as in programs.following.rules.breakdown


@dataclass(frozen=True, slots=True)
class Course:
    """One open program in one phase: `days` that count, `seconds` asked for in them at least, sessions, credited sessions."""

    program: int
    kind: str
    days: int
    seconds: int
    asked: int
    credit: float


@dataclass(frozen=True, slots=True)
class Total:
    """One program: minutes asked on a day that asks for anything, and the share of its dose (0-1)."""

    minutes: float
    share: float


@dataclass(frozen=True, slots=True)
class MinuteBin:
    """Programs that ask between `first` and `below` minutes a day; mean share with 95 % limits, None of fewer than six."""

    first: int
    below: int | None
    programs: int
    mean: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True, slots=True)
class PhaseShare:
    """Programs by how they go or went in a kind of phase; limits are Wilson 95 % of the share that is on track."""

    kind: str
    on_track: int
    partly: int
    under: int
    low: float
    high: float

    @property
    def programs(self) -> int:
        return self.on_track + self.partly + self.under


@dataclass(frozen=True, slots=True)
class ExerciseRow:
    """One exercise over all open programs. `skipped` by reason in the order of SKIPS; `unsaid` is not done, no reason given.

    `sided` of its runs have sides, `less_left` and `less_right` of them are uneven with that side behind.
    """

    slug: str
    name: str
    sessions: int
    done: int
    skipped: tuple[int, ...]
    sided: int
    less_left: int
    less_right: int

    @property
    def missed(self) -> int:
        return self.sessions - self.done

    @property
    def unsaid(self) -> int:
        return max(0, self.missed - sum(self.skipped))

    @property
    def share(self) -> float:
        """Of its sessions that left it out."""
        return self.missed / self.sessions if self.sessions else 0.0

    @property
    def limits(self) -> tuple[float, float]:
        """Wilson 95 % of `share`."""
        return wilson(self.missed, self.sessions) or (0.0, 1.0)


def totals(courses: Iterable[Course]) -> list[Total]:
    """Each program with enough days, all its phases together."""
    sums: dict[int, list[float]] = {}
    for row in courses:
        held = sums.setdefault(row.program, [0, 0, 0, 0.0])
        for place, value in enumerate((row.days, row.seconds, row.asked, row.credit)):
            held[place] += value
    return [
        Total(seconds / days / 60, credit / asked)
        for days, seconds, asked, credit in sums.values() if days >= LEAST_DAYS and asked
    ]


def by_minutes(rows: Sequence[Total]) -> list[MinuteBin]:
    """The bins of MINUTES that hold a program."""
    found = []
    for first, below in MINUTES:
        shares = [row.share for row in rows if first <= row.minutes and (below is None or row.minutes < below)]
        if shares:
            found.append(MinuteBin(first, below, len(shares), *(mean_interval(shares) or (None, None, None))))
    return found


def line_of(rows: Sequence[Total]) -> Line | None:
    """The share of the dose by minutes asked."""
    return least_squares([(row.minutes, row.share) for row in rows])


def by_kind(courses: Iterable[Course]) -> list[PhaseShare]:
    """The kinds of phase in their order, programs with enough days in it only."""
    counts: dict[str, list[int]] = {"kick_off": [0, 0, 0], "taper": [0, 0, 0], "maintenance": [0, 0, 0]}
    for row in courses:
        if row.days >= LEAST_DAYS and row.asked and row.kind in counts:
            share = row.credit / row.asked
            counts[row.kind][0 if share >= ON_TRACK else 1 if share >= PARTLY else 2] += 1
    return [
        PhaseShare(kind, good, partly, under, *(wilson(good, good + partly + under) or (0.0, 1.0)))
        for kind, (good, partly, under) in counts.items() if good + partly + under
    ]


def most_skipped(rows: Iterable[ExerciseRow]) -> list[ExerciseRow]:
    """Exercises asked for often enough, the most left out first."""
    return sorted((row for row in rows if row.sessions >= LEAST_SESSIONS), key=lambda row: (-row.share, row.name))


def most_uneven(rows: Iterable[ExerciseRow]) -> list[ExerciseRow]:
    """Exercises done by side, those with the most uneven runs first."""
    return sorted(
        (row for row in rows if row.sided), key=lambda row: (-(row.less_left + row.less_right), -row.sided, row.name)
    )
