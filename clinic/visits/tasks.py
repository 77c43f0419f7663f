"""Background work of visits."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clinic.visits.actions.plan_reassessment_reminders import plan_reassessment_reminders


@shared_task(name="visits.plan_reminders")
def plan_reminders() -> None:
    """Queue the reminders of reassessments whose window opened or passed."""
    plan_reassessment_reminders(now=timezone.now())
