"""Reassessments as the book sees them: who should come back, and the visit that answers it."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import QuerySet

from clinic.booking.models import Appointment, VisitType
from clinic.booking.recalls import Recall, register
from clinic.people.models import Client, Site, Staff, User
from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.models import Reassessment
from clinic.visits.queries import reassessments_for
from clinic.visits.vocab import ReassessmentStatus


class Reassessments:
    """The planner that booking asks."""

    def of_client(self, user: User, client: Client) -> list[Recall]:
        """One query."""
        return _recalls(_unbooked(reassessments_for(user)).filter(episode__client=client))

    def due_at(self, site: Site, until: date) -> list[Recall]:
        """One query."""
        rows = Reassessment.objects.select_related("episode__client__site").order_by("due", "pk")
        return _recalls(_unbooked(rows).filter(
            episode__client__site=site, episode__client__archived__isnull=True, earliest__lte=until
        ))

    def book(
        self, *, by: User, recall: Recall, visit_type: VisitType, clinician: Staff, start: datetime, now: datetime, note: str
    ) -> Appointment:
        """Both in one transaction."""
        return book_reassessment(
            by=by, reassessment=recall.row, clinician=clinician, start=start, now=now, visit_type=visit_type, note=note
        )


def _unbooked(rows: QuerySet[Reassessment]) -> QuerySet[Reassessment]:
    return rows.filter(status=ReassessmentStatus.OPEN, appointment__isnull=True)


def _recalls(rows: QuerySet[Reassessment]) -> list[Recall]:
    return [
        Recall(
            row.public_id, row.episode.client, row.episode, row.episode.lead_id, row.earliest, row.due, row.latest, row
        )
        for row in rows
    ]


register(Reassessments())
