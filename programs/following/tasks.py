"""Scheduled work of following."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from programs.following.actions.follow_programs import follow_programs


@shared_task(name="following.follow")
def follow() -> int:
    """Bring programs up to date whose day has turned."""
    return follow_programs(now=timezone.now())
