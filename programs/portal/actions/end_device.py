"""A client signs one of their devices out."""

from __future__ import annotations

from datetime import datetime

from django.contrib.sessions.models import Session
from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.queries import own_client
from clinic.people.refusal import NotThere
from clinic.reminders.actions.end_push_of import end_push_of
from programs.portal.models import Device


@transaction.atomic
def end_device(*, by: User, device: Device, now: datetime) -> None:
    """Its next request is a visitor's. What it had not sent yet stays on it until somebody signs in there again."""
    if device.user_id != by.pk:
        raise NotThere
    Session.objects.filter(session_key=device.session_key).delete()
    end_push_of(session_key=device.session_key)
    audit.record(
        by=by, verb="end_device", kind="device", public_id=device.public_id, at=now, client=own_client(by),
        device=device.kind,
    )
    device.delete()
