"""A sign-in has ended: the device behind it shows nothing more."""

from __future__ import annotations

from django.db import transaction

from clinic.reminders.models import PushDevice


@transaction.atomic
def end_push_of(*, session_key: str) -> int:
    """How many were forgotten. The agreement to the channel stays: they signed out, they did not object."""
    return PushDevice.objects.filter(session_key=session_key).exclude(session_key="").delete()[0]
