"""The doorbell: asks a worker to deliver now instead of at the next tick. Losing a ring loses nothing."""

from __future__ import annotations

import logging

from celery import current_app
from django.conf import settings
from django.db import connection, transaction

log = logging.getLogger("intervale.reminders")
RING_EXPIRES = 60   # seconds; the tick has long done the work of an older ring


def ring() -> None:
    """Ring once after the transaction commits; several rings in one transaction are one.

    Embedded mode has no worker to ring for: there only the tick delivers, never the request.
    """
    if settings.CELERY_TASK_ALWAYS_EAGER:
        return
    if any(entry[1] is _send for entry in connection.run_on_commit):
        return
    transaction.on_commit(_send, robust=True)


def _send() -> None:
    try:
        # by name, because the tasks module stands above everything that rings
        current_app.send_task(
            "reminders.deliver", kwargs={"rung": True}, expires=RING_EXPIRES, retry=True,
            retry_policy=current_app.conf.task_publish_retry_policy,
        )
    except Exception as error:   # whatever the broker does, what was just committed stays committed
        log.warning("doorbell_failed", {"error_type": type(error).__name__})
