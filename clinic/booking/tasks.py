"""Scheduled work of booking."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clinic.booking.actions.pass_on_offers import pass_on_offers
from clinic.booking.actions.plan_visit_reminders import plan_visit_reminders
from clinic.people.queries import system_actor


@shared_task(name="booking.plan_reminders")
def plan_reminders() -> int:
    """Queue the reminders of visits that come within a day."""
    return plan_visit_reminders(by=system_actor(), now=timezone.now())


@shared_task(name="booking.pass_on_offers")
def pass_on() -> int:
    """Offer hours nobody answered for in time to the next in turn."""
    return pass_on_offers(by=system_actor(), now=timezone.now())
