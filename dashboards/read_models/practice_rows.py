"""Rows about visits and hours of a practice: nothing clinical is in them. Weeks begin on the `monday` they name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TypeVar

from programs.following.rules.intervals import wilson

Row = TypeVar("Row")
Key = TypeVar("Key")

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


@dataclass(frozen=True, slots=True)
class PersonHours:
    """One clinician: the weeks behind added up, and of those ahead what comes due, its places, and the most left over."""

    behind: HoursRow
    due: int
    places: int
    over: int


def by_week(rows: Sequence[HoursRow]) -> dict[date, HoursRow]:
    """All clinicians' minutes added up, week by week."""
    return {
        monday: _added(0, "", monday, found) for monday, found in _grouped(rows, lambda row: row.monday).items()
    }


def by_person(rows: Sequence[HoursRow], load: Sequence[LoadRow]) -> list[PersonHours]:
    """Each clinician's weeks added up; whoever has most left over first, then by name."""
    ahead = _grouped(load, lambda row: row.key)
    found = [
        PersonHours(
            _added(key, weeks[0].clinician, weeks[0].monday, weeks), sum(row.due for row in ahead.get(key, ())),
            sum(row.places for row in ahead.get(key, ())), max((row.over for row in ahead.get(key, ())), default=0),
        )
        for key, weeks in _grouped(rows, lambda row: row.key).items()
    ]
    return sorted(found, key=lambda line: (-line.over, line.behind.clinician, line.behind.key))


def _grouped(rows: Sequence[Row], of: Callable[[Row], Key]) -> dict[Key, list[Row]]:
    found: dict[Key, list[Row]] = {}
    for row in rows:
        found.setdefault(of(row), []).append(row)
    return found


def _added(key: int, name: str, monday: date, rows: Sequence[HoursRow]) -> HoursRow:
    sums = {field: sum(getattr(row, field) for row in rows) for field in SUMMED}
    return HoursRow(key, name, monday, **sums, review=rows[0].review)


SUMMED = ("open", "used", "missed", "stranded", "free", "outside", "places")


def load_by_week(rows: Sequence[LoadRow]) -> dict[date, LoadRow]:
    """All clinicians' weeks ahead added up: nobody takes over another's reassessments by that."""
    return {
        monday: LoadRow(
            0, "", monday, sum(row.open for row in found), sum(row.booked for row in found),
            sum(row.places for row in found), sum(row.due for row in found), found[0].minutes,
            sum(row.over for row in found),
        )
        for monday, found in _grouped(rows, lambda row: row.monday).items()
    }
