"""Delivery on a tick and on a ring."""

from __future__ import annotations

import os
import socket

from celery import shared_task
from django.utils import timezone

from clinic.reminders.actions.beat import beat
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.vocab import DELIVER


@shared_task(name="reminders.deliver")
def deliver(rung: bool = False) -> None:
    """Only a tick of the schedule counts as a heartbeat: rings go on when the schedule has died."""
    deliver_due(now=timezone.now(), worker=f"{os.getpid()}@{socket.gethostname()}")
    if not rung:
        beat(DELIVER, timezone.now())
