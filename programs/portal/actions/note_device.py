"""Note where a client signed in, and when that device was heard from."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from clinic.people.models import User
from programs.portal.models import Device
from programs.portal.rules.devices import kind_of

EVERY = timedelta(hours=1)


@transaction.atomic
def note_device(*, by: User, session_key: str, agent: str, now: datetime) -> Device:
    """A row per session; the time it was last heard from is kept to the hour. The browser's own words are not kept."""
    device, made = Device.objects.get_or_create(
        session_key=session_key, defaults={"user": by, "kind": kind_of(agent), "first": now, "last": now}
    )
    if not made and (device.user_id != by.pk or now - device.last >= EVERY):
        device.user, device.kind, device.last = by, kind_of(agent), max(now, device.first)
        device.save(update_fields=["user", "kind", "last"])
    return device
