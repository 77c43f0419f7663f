"""A client who signs in is noted with the device."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from clinic.people.models import User
from clinic.people.vocab import Role
from programs.portal.actions.note_device import note_device


@receiver(user_logged_in, dispatch_uid="portal.note_device")
def _signed_in(sender: Any, request: HttpRequest, user: User, **more: Any) -> None:
    key = request.session.session_key
    if user.role == Role.CLIENT and key:
        note_device(by=user, session_key=key, agent=request.META.get("HTTP_USER_AGENT", ""), now=timezone.now())
