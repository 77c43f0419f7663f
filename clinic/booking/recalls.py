"""Who should come back, and by when: told by the app above that plans it, so that booking knows nobody above it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, Protocol
from uuid import UUID

from clinic.booking.models import Appointment, VisitType
from clinic.people.models import Client, Episode, Site, Staff, User


@dataclass(frozen=True)
class Recall:
    """A look that is waiting for a visit, with its due window in local days. `row` is the planner's own."""

    public_id: UUID
    client: Client
    episode: Episode
    clinician_pk: int
    earliest: date
    due: date
    latest: date
    row: Any

    def fits(self, visit_type: VisitType, day: date) -> bool:
        """Whether a visit of that type on that day answers it; a late one does, one before the window does not."""
        return visit_type.is_reassessment and day >= self.earliest


class Planner(Protocol):
    """What the app above answers."""

    def of_client(self, user: User, client: Client) -> list[Recall]:
        """The client's looks without a visit that the user may see, the first due first."""

    def due_at(self, site: Site, until: date) -> list[Recall]:
        """Looks without a visit at a site whose window opens by a day, the first due first."""

    def book(
        self, *, by: User, recall: Recall, visit_type: VisitType, clinician: Staff, start: datetime, now: datetime, note: str
    ) -> Appointment:
        """Book the visit and tie both in one transaction."""


_planners: list[Planner] = []


def register(planner: Planner) -> None:
    """Make the planner known; the last one counts."""
    _planners[:] = [planner]


def planner() -> Planner | None:
    """The planner; None while no app plans anything."""
    return _planners[-1] if _planners else None


def of_client(user: User, client: Client) -> list[Recall]:
    """The client's looks without a visit that the user may see, the first due first."""
    known = planner()
    return known.of_client(user, client) if known else []


def due_at(site: Site, until: date) -> list[Recall]:
    """Looks without a visit at a site whose window opens by a day, the first due first."""
    known = planner()
    return known.due_at(site, until) if known else []
