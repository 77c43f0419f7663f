"""Background work of visits."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clinic.visits.actions.plan_reassessment_reminders import plan_reassessment_reminders
from clinic.visits.actions.plan_referral_looks import plan_referral_looks


@shared_task(name="visits.plan_reminders")
def plan_reminders() -> None:
    """Plan the looks that a referral's end calls for; queue the reminders of windows that opened or passed."""
    now = timezone.now()
    plan_referral_looks(now=now)
    plan_reassessment_reminders(now=now)
