"""Queue the reminders of the day's session for clients who wished for one and whose hour has come."""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime

from django.db import transaction

from clinic.people.models import User
from clinic.people.rules import zones
from clinic.reminders.actions.queue_message import queue_message
from programs.following.models import DayNudge
from programs.following.nudging import about, nudges_due, reasons
from programs.following.rules import nudge

KIND = "day_nudge"
LOT = 500


def plan_nudges(*, by: User, now: datetime) -> int:
    """How many were queued: one a client and day at most, none for a day that asks for nothing or has a log already.

    A wish is looked at when its moment has come and put on to the next day's, so that a tick costs what is due. Lots of
    500, each in its own transaction. After a standstill of hours nothing is made up for.
    """
    queued = 0
    while True:
        taken, count = _plan_lot(by, now)
        queued += count
        if taken < LOT:
            return queued


@transaction.atomic
def _plan_lot(by: User, now: datetime) -> tuple[int, int]:
    rows = list(nudges_due(now)[:LOT])
    days: dict[date, list[DayNudge]] = defaultdict(list)
    for row in rows:
        day = zones.day_in(now, row.client.zone)
        due, until = nudge.window(day, row.at, row.client.zone)
        if due <= now <= until:
            days[day].append(row)
        row.next_at = nudge.next_after(now, row.at, row.client.zone)
    DayNudge.objects.bulk_update(rows, ["next_at"])
    return len(rows), sum(_queue(by, day, wishes, now) for day, wishes in days.items())


def _queue(by: User, day: date, wishes: list[DayNudge], now: datetime) -> int:
    against, queued = reasons([row.client_id for row in wishes], day), 0
    for row in wishes:
        if against[row.client_id] or row.client.archived:
            continue
        due, until = nudge.window(day, row.at, row.client.zone)
        message = queue_message(
            by=by, kind=KIND, to=row.client, about=about(row.client, day), due=due, not_after=until, now=now,
            dedup_key=f"{KIND}:{row.client.public_id}:{day.isoformat()}",
            values={"first_name": row.client.given_name, "time": row.at.isoformat("minutes"), "url": "/portal/"},
        )
        queued += message is not None
    return queued
