"""Visits ahead whose local time is no longer the one agreed, because the rules of the zone have changed since.

A law moves a clock change, a new time zone database comes with an update: what was ten o'clock is nine o'clock then.
The visit keeps its instant and is listed; the desk asks the client which of the two they mean. Nothing is moved by itself.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import NamedTuple
from uuid import UUID

from clinic.booking.models import Appointment
from clinic.booking.vocab import HOLDING
from clinic.people.rules import zones


class Shifted(NamedTuple):
    """A visit, what the clock of its site showed when it was agreed, and what it shows now (local, naive)."""

    public_id: UUID
    site: str
    agreed: datetime
    shown: datetime
    kept: datetime   # the instant that the agreed local time is now


def shifted(now: datetime) -> Iterator[Shifted]:
    """In the order they start. One query."""
    rows = Appointment.objects.filter(status__in=HOLDING, starts__gt=now, offset_minutes__isnull=False)
    columns = rows.order_by("starts", "pk").values_list("public_id", "site__name", "site__zone", "starts", "offset_minutes")
    for public_id, name, zone, starts, agreed in columns.iterator():
        shown = zones.offset_minutes(starts, zone)
        if agreed is not None and shown != agreed:
            plain = starts.replace(tzinfo=None)
            yield Shifted(
                public_id, name, plain + timedelta(minutes=agreed), plain + timedelta(minutes=shown),
                starts + timedelta(minutes=agreed - shown),
            )
