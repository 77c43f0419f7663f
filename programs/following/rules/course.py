"""What a program's state is worked out from: its plans, pauses, logs, morning answers and open alerts, as plain values."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from programs.following.rules.entry import ItemEntry
from programs.prescribing.rules.plan import Plan


@dataclass(frozen=True, slots=True)
class EffectivePlan:
    """One revision: of those effective on a day, the highest number counts."""

    number: int
    effective_from: date
    plan: Plan


@dataclass(frozen=True, slots=True)
class PauseSpan:
    """Days that do not count: `first` up to but not including `until`."""

    first: date
    until: date | None

    def covers(self, day: date) -> bool:
        return self.first <= day and (self.until is None or day < self.until)


@dataclass(frozen=True, slots=True)
class LoggedSession:
    """One report of a session; `shown` is the number of the revision it answers."""

    log_id: UUID
    edit: int
    day: date
    shown: int
    pain_before: int | None
    pain_during: int | None
    effort: int | None
    rating: str
    items: tuple[ItemEntry, ...]
    started: datetime | None = None

    @property
    def order(self) -> tuple[date, bool, float, UUID]:
        """By day, then by the time it started; those without a time last."""
        return self.day, self.started is None, self.started.timestamp() if self.started else 0.0, self.log_id


@dataclass(frozen=True, slots=True)
class Morning:
    """Pain the morning after `day`; `order` grows with arrival."""

    day: date
    pain: int
    order: int


@dataclass(frozen=True, slots=True)
class Course:
    """All that a program's state is worked out from."""

    starts: date
    ended: date | None
    plans: tuple[EffectivePlan, ...]
    pauses: tuple[PauseSpan, ...] = ()
    sessions: tuple[LoggedSession, ...] = ()
    mornings: tuple[Morning, ...] = ()
    open_alerts: int = 0

    def plan_on(self, day: date) -> EffectivePlan | None:
        """The plan in force that day; None before the first."""
        in_force = [plan for plan in self.plans if plan.effective_from <= day]
        return max(in_force, key=lambda plan: plan.number, default=None)

    @property
    def newest(self) -> EffectivePlan | None:
        """The last revision written, whether or not its day has come."""
        return max(self.plans, key=lambda plan: plan.number, default=None)

    def shown(self, number: int) -> Plan | None:
        """The plan of that revision number."""
        return next((plan.plan for plan in self.plans if plan.number == number), None)


def newest_edits(sessions: Iterable[LoggedSession]) -> list[LoggedSession]:
    """One report per log, the highest edit, in the order the sessions were done."""
    newest: dict[UUID, LoggedSession] = {}
    for session in sessions:
        held = newest.get(session.log_id)
        if held is None or session.edit > held.edit:
            newest[session.log_id] = session
    return sorted(newest.values(), key=lambda session: session.order)
