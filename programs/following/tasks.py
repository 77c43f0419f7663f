"""Scheduled work of following."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.rebuild_following import rebuild_following


@shared_task(name="following.reconcile")
def reconcile() -> int:
    """Work every day record and state out anew and set right what differs; the counts are in the log."""
    found = rebuild_following(now=timezone.now(), write=True)
    return len(found.differences) + found.more


@shared_task(name="following.follow")
def follow() -> int:
    """Bring programs up to date whose day has turned."""
    return follow_programs(now=timezone.now())
