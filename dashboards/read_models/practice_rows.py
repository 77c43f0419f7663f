"""Rows about visits and hours of a practice: nothing clinical is in them. Weeks begin on the `monday` they name."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from programs.following.rules.intervals import wilson

# days between booking and visit, both included (common practice, no source)
LEADS: tuple[tuple[int, int | None], ...] = ((0, 1), (2, 6), (7, 13), (14, 27), (28, None))


@dataclass(frozen=True, slots=True)
class Attendance:
    """Visits whose time has come: kept, missed (no-show), cancelled before, and never closed by anybody."""

    kept: int = 0
    missed: int = 0
    cancelled: int = 0
    unclosed: int = 0

    @property
    def expected(self) -> int:
        """Visits somebody was expected at and of which it is known whether they came."""
        return self.kept + self.missed

    def __add__(self, other: Attendance) -> Attendance:
        return Attendance(
            self.kept + other.kept, self.missed + other.missed, self.cancelled + other.cancelled,
            self.unclosed + other.unclosed,
        )


@dataclass(frozen=True, slots=True)
class WeekAttendance:
    """A week's visits, with the limits of the control chart; share and limits are None without an expected visit."""

    monday: date
    seen: Attendance
    share: float | None
    low: float | None
    high: float | None
    signal: int


@dataclass(frozen=True, slots=True)
class GroupAttendance:
    """Visits of one group (a lead time, a fate of the reminder) with Wilson's 95 % interval of the no-show share."""

    code: str
    seen: Attendance
    interval: tuple[float, float] | None

    @property
    def share(self) -> float | None:
        return self.seen.missed / self.seen.expected if self.seen.expected else None


def group_of(code: str, seen: Attendance) -> GroupAttendance:
    """A group with its interval."""
    return GroupAttendance(code, seen, wilson(seen.missed, seen.expected))


@dataclass(frozen=True, slots=True)
class AttendancePart:
    """All of it: the chart's centre (None without any expected visit), weeks oldest first, lead times shortest first."""

    centre: float | None
    weeks: tuple[WeekAttendance, ...]
    leads: tuple[GroupAttendance, ...]

    @property
    def whole(self) -> Attendance:
        return sum((week.seen for week in self.weeks), Attendance())


@dataclass(frozen=True, slots=True)
class HoursRow:
    """Minutes of one clinician's week. `stranded` are gaps too short for any visit, `free` the other unused ones.

    Inside working hours less absences: used + missed + stranded + free = open. `outside` was worked beyond them. `places`
    is how many reassessments, one after another, the free time still takes (weeks ahead only). `key` is the clinician's, 0
    for all; `review` are the minutes of one reassessment, 0 where there is no such visit.
    """

    key: int
    clinician: str
    monday: date
    open: int
    used: int
    missed: int
    stranded: int
    free: int
    outside: int
    places: int
    review: int


@dataclass(frozen=True, slots=True)
class LoadRow:
    """One clinician's week ahead: `due` open reassessments without a visit, at `minutes` each, against `places`.

    `over` is how many do not fit by the end of this week: what did not fit goes on to the next one. `key` as in HoursRow.
    """

    key: int
    clinician: str
    monday: date
    open: int
    booked: int
    places: int
    due: int
    minutes: int
    over: int


def by_week(rows: Sequence[HoursRow]) -> dict[date, HoursRow]:
    """All clinicians' minutes added up, week by week."""
    found: dict[date, HoursRow] = {}
    for row in rows:
        old = found.get(row.monday, HoursRow(0, "", row.monday, 0, 0, 0, 0, 0, 0, 0, row.review))
        found[row.monday] = HoursRow(
            0, "", row.monday, old.open + row.open, old.used + row.used, old.missed + row.missed,
            old.stranded + row.stranded, old.free + row.free, old.outside + row.outside, old.places + row.places,
            row.review,
        )
    return found


def load_by_week(rows: Sequence[LoadRow]) -> dict[date, LoadRow]:
    """All clinicians' weeks ahead added up: nobody takes over another's reassessments by that."""
    found: dict[date, LoadRow] = {}
    for row in rows:
        old = found.get(row.monday, LoadRow(0, "", row.monday, 0, 0, 0, 0, row.minutes, 0))
        found[row.monday] = LoadRow(
            0, "", row.monday, old.open + row.open, old.booked + row.booked, old.places + row.places, old.due + row.due,
            row.minutes, old.over + row.over,
        )
    return found
