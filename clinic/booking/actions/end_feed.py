"""End a secret address of a calendar."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.booking.models import CalendarFeed
from clinic.people import audit
from clinic.people.models import User


@transaction.atomic
def end_feed(*, by: User, feed: CalendarFeed, now: datetime) -> None:
    """Its next fetch finds nothing. A second time changes nothing. `feed` comes from the door to one's own."""
    if CalendarFeed.objects.filter(pk=feed.pk, ended__isnull=True).update(ended=now):
        audit.record(
            by=by, verb="end_feed", kind="calendar_feed", public_id=feed.public_id, at=now,
            client=getattr(by, "client", None),
        )
