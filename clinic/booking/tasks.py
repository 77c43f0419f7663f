"""Scheduled work of booking."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clinic.booking.actions.plan_visit_reminders import plan_visit_reminders
from clinic.people.queries import system_actor


@shared_task(name="booking.plan_reminders")
def plan_reminders() -> int:
    """Queue the reminders of visits that come within a day."""
    return plan_visit_reminders(by=system_actor(), now=timezone.now())
