"""A line of the caseload as one value: equal values say the same, so that what was drawn of one serves for the other."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from uuid import UUID

from clinic.visits.queries import ReassessmentRow
from programs.following.ribbons import ribbon_days
from programs.following.rules.attention import Reason, with_look
from programs.prescribing.rules.ribbon import RibbonDay


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the caseload before it is filled in; `program` None is an episode without one. `flags` are of FILTERS."""

    program: int | None
    episode: int
    flags: frozenset[str]
    overdue: int = 0              # days by which its reassessment is overdue and not booked
    unread: int = 0               # notes of the client that nobody has read


@dataclass(frozen=True, slots=True)
class Waiting:
    """A suggestion that waits for a decision; `proposal` in words."""

    public_id: UUID
    kind: str
    proposal: str


@dataclass(frozen=True, slots=True)
class NextVisit:
    """The next visit in the book; `starts` UTC, shown in the site's `zone`."""

    public_id: UUID
    starts: datetime
    zone: str
    kind: str
    clinician: str


@dataclass(frozen=True, slots=True)
class Standing:
    """How a program goes: shares 0-1, None where nothing counts yet; pain 0-10, slope in points a week.

    `points` and `because` (JSON) are as stored; `attention` and `reasons` count a reassessment `overdue` by so many days.
    """

    band: str
    phase_kind: str
    adherence_7: float | None
    adherence_all: float | None
    sessions_done: int
    sessions_prescribed: int
    low: float | None
    high: float | None
    silent_days: int
    last_logged: date | None
    pain_last: int | None
    pain_slope: float | None
    points: int
    because: str
    overdue: int

    @property
    def attention(self) -> int:
        return _looked(self.points, self.because, self.overdue)[0]

    @property
    def reasons(self) -> tuple[Reason, ...]:
        return _looked(self.points, self.because, self.overdue)[1]


def _looked(points: int, because: str, overdue: int) -> tuple[int, tuple[Reason, ...]]:
    return with_look(points, json.loads(because), overdue)


@dataclass(frozen=True, slots=True)
class CaseloadRow:
    """One line: a program, or an episode that has none (`program_id` None, no standing, no ribbon)."""

    client: str
    client_id: UUID
    clinician: str
    complaint: str
    episode_id: UUID
    program: str
    program_id: UUID | None
    status: str
    starts: date | None
    drawn: str                    # the ribbon as it is stored
    standing: Standing | None
    suggestions: tuple[Waiting, ...]
    reassessment: ReassessmentRow | None
    zone: str                     # of the client's site
    visit: NextVisit | None
    open_alerts: int
    unread: int                   # notes of the client that nobody has read

    @property
    def ribbon(self) -> tuple[RibbonDay, ...]:
        return _ribbon(self.drawn) if self.drawn else ()


_ribbon = lru_cache(maxsize=4096)(ribbon_days)
