"""Where the signed-in client is signed in."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.contrib.sessions.models import Session
from django.db.models import QuerySet

from clinic.people.models import User
from clinic.people.refusal import NotThere
from programs.portal.models import Device


def my_devices(user: User, now: datetime) -> QuerySet[Device]:
    """Own devices whose session still holds, the one used last first."""
    alive = Session.objects.filter(expire_date__gt=now).values("session_key")
    return Device.objects.filter(user=user, session_key__in=alive).order_by("-last", "-pk")


def my_device(user: User, public_id: UUID, now: datetime) -> Device:
    """One of them. NotThere for anybody else's."""
    device = my_devices(user, now).filter(public_id=public_id).first()
    if device is None:
        raise NotThere
    return device
