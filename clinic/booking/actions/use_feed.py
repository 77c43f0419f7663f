"""Another program fetched a calendar from its secret address."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q

from clinic.booking.feeds import TO_THE, calendar, feed_by_secret
from clinic.booking.models import CalendarFeed


def use_feed(*, secret: str, now: datetime) -> bytes:
    """The calendar, and its last use noted to the minute. NotThere for a secret that is wrong, ended or of somebody gone.

    No audit row: programs fetch every few minutes, and it is the owner's own.
    """
    feed = feed_by_secret(secret)
    if feed.last_used is None or feed.last_used <= now - TO_THE:
        stale = Q(last_used__isnull=True) | Q(last_used__lte=now - TO_THE)
        CalendarFeed.objects.filter(stale, pk=feed.pk).update(last_used=now)
    return calendar(feed, now)
