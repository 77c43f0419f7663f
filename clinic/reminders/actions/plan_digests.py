"""Queue the daily digest of clinicians and the desk."""

from __future__ import annotations

from datetime import datetime, time, timedelta

from django.conf import settings
from django.db import transaction

from clinic.people.models import User
from clinic.people.rules import zones
from clinic.reminders import queries
from clinic.reminders.actions.queue_message import queue_message
from clinic.reminders.digests import counts_for
from clinic.reminders.models import Message

KIND = "daily_digest"
USEFUL_FOR = timedelta(hours=4)   # later in the day the screens say it better


@transaction.atomic
def plan_digests(*, by: User, now: datetime) -> int:
    """One digest a person and local day of their site, from INTERVALE_DIGEST_HOUR on, when something waits; how many.

    Somebody for whom nothing waits at that hour gets one as soon as something does, for four hours.
    """
    if settings.DIGEST_HOUR is None:
        return 0
    wanted = {}
    for staff, zone in queries.digest_readers():
        day = zones.day_in(now, zone)
        due = zones.lenient_instant(day, time(settings.DIGEST_HOUR), zone)
        if due <= now <= due + USEFUL_FOR:
            wanted[f"{KIND}:{staff.public_id}:{day}"] = (staff, zone, due, day)
    had = set(Message.objects.filter(dedup_key__in=wanted).values_list("dedup_key", flat=True))
    queued = 0
    for key in sorted(wanted.keys() - had):
        staff, zone, due, day = wanted[key]
        counts = counts_for(staff.user, now, zone)
        if counts and queue_message(
            by=by, kind=KIND, to=staff, about=f"day:{day}", dedup_key=key, due=due, not_after=due + USEFUL_FOR, now=now,
            values={"counts": counts, "url": "/"},
        ):
            queued += 1
    return queued
