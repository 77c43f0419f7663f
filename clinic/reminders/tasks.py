"""Delivery on a tick and on a ring; the daily digest."""

from __future__ import annotations

import os
import socket

from celery import shared_task
from django.utils import timezone

from clinic.people.queries import system_actor
from clinic.reminders.actions.beat import beat
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.actions.plan_digests import plan_digests
from clinic.reminders.vocab import DELIVER


@shared_task(name="reminders.deliver")
def deliver(rung: bool = False) -> None:
    """Only a tick of the schedule counts as a heartbeat: rings go on when the schedule has died."""
    deliver_due(now=timezone.now(), worker=f"{os.getpid()}@{socket.gethostname()}")
    if not rung:
        beat(DELIVER, timezone.now())


@shared_task(name="reminders.plan_digests")
def digests() -> int:
    """Queue the digests whose hour has come."""
    return plan_digests(by=system_actor(), now=timezone.now())
