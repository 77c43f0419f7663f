"""The doorbell: asks a worker to deliver now instead of at the next tick. Losing a ring loses nothing."""

from __future__ import annotations

import logging
import time

from celery import current_app
from django.conf import settings
from django.db import connection, transaction
from kombu import pools

log = logging.getLogger("intervale.reminders")
RING_EXPIRES = 60     # seconds; the tick has long done the work of an older ring
QUIET_SECONDS = 30    # after a ring that failed, no request waits for the broker again for so long
# a broker that takes the call and then says nothing; a worker may wait longer for it than a request
BOUNDS = {"socket_connect_timeout": 0.5, "socket_timeout": 0.5}
_quiet = {"until": 0.0}   # of this process, by a clock that never steps back


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
    if time.monotonic() < _quiet["until"]:
        return
    try:
        line = current_app.connection_for_write(transport_options=BOUNDS)
        with pools.producers[line].acquire(block=True, timeout=1) as producer:
            # by name, because the tasks module stands above everything that rings
            current_app.send_task(
                "reminders.deliver", kwargs={"rung": True}, expires=RING_EXPIRES, retry=True,
                retry_policy=current_app.conf.task_publish_retry_policy, producer=producer,
            )
    except Exception as error:   # whatever the broker does, what was just committed stays committed
        _quiet["until"] = time.monotonic() + QUIET_SECONDS
        log.warning("doorbell_failed", {"error_type": type(error).__name__})
