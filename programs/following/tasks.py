"""Scheduled work of following."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clinic.people.queries import system_actor
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.plan_nudges import plan_nudges as plan_due_nudges
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


@shared_task(name="following.plan_nudges")
def plan_nudges() -> int:
    """Queue the reminders of the day's session whose hour has come."""
    return plan_due_nudges(by=system_actor(), now=timezone.now())
