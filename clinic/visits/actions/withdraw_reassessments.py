"""Take back reassessments that no longer make sense, as when a program ends."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Episode, User
from clinic.visits.models import Reassessment
from clinic.visits.vocab import ReassessmentStatus


@transaction.atomic
def withdraw_reassessments(*, by: User, episode: Episode, reasons: Collection[str], now: datetime) -> int:
    """Withdraw the open ones with these reasons; how many. One with a visit booked stays: a person decides about a visit."""
    rows = list(
        Reassessment.objects.select_for_update().filter(
            episode=episode, reason__in=list(reasons), status=ReassessmentStatus.OPEN, appointment__isnull=True
        )
    )
    for row in rows:
        row.status, row.closed_at = ReassessmentStatus.WITHDRAWN, now
        row.save(update_fields=["status", "closed_at"])
        audit.record(
            by=by, verb="withdraw_reassessment", kind="reassessment", public_id=row.public_id, at=now,
            client=episode.client, reason=row.reason,
        )
    return len(rows)
