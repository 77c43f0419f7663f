"""A proposal and the evidence it carries."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal
from uuid import UUID

from programs.following.rules.course import LoggedSession

ProposalKind = Literal[
    "progress", "maintain", "regress", "taper", "extend_kick_off", "contact", "reassess", "pause_and_refer"
]
MOST_LOGS = 12   # logs named behind one proposal; more would not be read


@dataclass(frozen=True, slots=True)
class Evidence:
    """Which rule, what was seen, what it was held against, who says so, and the logs behind it, newest last."""

    rule: str
    observed: Mapping[str, Any]
    threshold: Mapping[str, float]
    source: str
    logs: tuple[tuple[UUID, date], ...] = ()
    change: Mapping[str, Any] = field(default_factory=dict)

    def to_json(self) -> dict[str, Any]:
        """The stored form."""
        return {
            "rule": self.rule,
            "observed": dict(self.observed),
            "threshold": dict(self.threshold),
            "source": self.source,
            "logs": [{"log_id": str(log_id), "day": day.isoformat()} for log_id, day in self.logs],
            "change": dict(self.change),
        }


@dataclass(frozen=True, slots=True)
class Proposal:
    """What could be decided. `item_key` None: about the whole program."""

    kind: ProposalKind
    item_key: UUID | None
    evidence: Evidence


def behind(sessions: Iterable[LoggedSession]) -> tuple[tuple[UUID, date], ...]:
    """The logs to name, the newest MOST_LOGS of them."""
    return tuple((session.log_id, session.day) for session in sessions)[-MOST_LOGS:]
