"""Say that a named piece of background work ran to its end."""

from __future__ import annotations

from datetime import datetime

from clinic.reminders.models import Heartbeat


def beat(name: str, now: datetime) -> None:
    """Write the heartbeat. Never backwards: a second worker with a slower clock does not make the first look late."""
    row, created = Heartbeat.objects.get_or_create(name=name, defaults={"at": now})
    if not created:
        Heartbeat.objects.filter(pk=row.pk, at__lt=now).update(at=now)
