"""The Celery application. Celery is the doorbell: the database decides what is due."""

from __future__ import annotations

import logging.config
import os
from typing import Any

from celery import Celery
from celery.signals import setup_logging
from django.conf import settings

from clinic.project import environment as env

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "clinic.project.settings")

app = Celery("intervale")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.update(
    # UTC and plain intervals: a crontab in a zone with clock changes falls silent for an hour in autumn
    timezone="UTC",
    enable_utc=True,
    # a queue of our own, so that two clinics can share one Redis
    task_default_queue=env.text("INTERVALE_QUEUE", "intervale"),
    beat_schedule_filename=str(settings.DATA / "beat"),
    task_acks_late=True,
    task_reject_on_worker_lost=True,
    task_ignore_result=True,
    worker_prefetch_multiplier=1,
    broker_connection_retry_on_startup=True,
    # a dead broker must never hold up the request that rang the bell
    task_publish_retry_policy={"max_retries": 1, "interval_start": 0, "interval_step": 0.1, "interval_max": 0.1},
    broker_transport_options={"visibility_timeout": 3600, "socket_connect_timeout": 1, "socket_timeout": 5},
    beat_schedule={
        "deliver-messages": {"task": "reminders.deliver", "schedule": settings.TICK_SECONDS},
        "pass-on-offers": {"task": "booking.pass_on_offers", "schedule": 3 * settings.TICK_SECONDS},
        "plan-visit-reminders": {"task": "booking.plan_reminders", "schedule": 15 * settings.TICK_SECONDS},
        "plan-digests": {"task": "reminders.plan_digests", "schedule": 15 * settings.TICK_SECONDS},
        "plan-reassessment-reminders": {"task": "visits.plan_reminders", "schedule": 15 * settings.TICK_SECONDS},
        "follow-programs": {"task": "following.follow", "schedule": 15 * settings.TICK_SECONDS},
        "plan-nudges": {"task": "following.plan_nudges", "schedule": 15 * settings.TICK_SECONDS},
        "seal-trail": {"task": "trust.seal", "schedule": 15 * settings.TICK_SECONDS},
        # once a day with ticks of a minute: proves that what is stored follows from the records
        "reconcile-programs": {"task": "following.reconcile", "schedule": 1440 * settings.TICK_SECONDS},
    },
)
if app.conf.broker_url.startswith("filesystem://"):
    _spool = settings.DATA / "spool"
    for _name in ("messages", "control"):
        (_spool / _name).mkdir(parents=True, exist_ok=True)
    app.conf.broker_transport_options = {
        "data_folder_in": str(_spool / "messages"),
        "data_folder_out": str(_spool / "messages"),
        "control_folder": str(_spool / "control"),
    }
app.autodiscover_tasks()


@setup_logging.connect
def keep_our_log_lines(**kwargs: Any) -> None:
    """Without this Celery sets up logging of its own, whose error lines quote arguments and exception texts."""
    logging.config.dictConfig(settings.LOGGING)
