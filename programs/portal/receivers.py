"""A client who signs in is noted with the device."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.signals import user_logged_in, user_logged_out
from django.dispatch import receiver
from django.http import HttpRequest
from django.utils import timezone

from clinic.people.models import User
from clinic.people.vocab import Role
from clinic.reminders.actions.end_push_of import end_push_of
from programs.portal.actions.note_device import note_device


@receiver(user_logged_in, dispatch_uid="portal.note_device")
def _signed_in(sender: Any, request: HttpRequest, user: User, **more: Any) -> None:
    key = request.session.session_key
    if user.role == Role.CLIENT and key:
        note_device(by=user, session_key=key, agent=request.META.get("HTTP_USER_AGENT", ""), now=timezone.now())


@receiver(user_logged_out, dispatch_uid="portal.end_push")
def _signed_out(sender: Any, request: HttpRequest, user: User | None, **more: Any) -> None:
    key = request.session.session_key
    if user is not None and user.role == Role.CLIENT and key:
        end_push_of(session_key=key)
