"""Background work inside one process: the beat schedule on a thread, its tasks run on the spot, no service needed."""

from __future__ import annotations

import threading
from pathlib import Path

from celery.beat import Service
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured
from django.db import connections

from clinic.project.celery import app

LONGEST_SLEEP = 1   # seconds; how long stopping may take


class Background(threading.Thread):
    """Celery's beat on a thread. Tasks are eager, so each runs here, one after another."""

    def __init__(self, schedule_file: Path) -> None:
        super().__init__(name="background", daemon=True)
        self._service = Service(app, max_interval=LONGEST_SLEEP, schedule_filename=str(schedule_file))

    def run(self) -> None:
        app.set_current()
        try:
            self._service.start()
        finally:
            connections.close_all()

    def stop(self) -> None:
        """Let the running task end, then return."""
        self._service.stop()
        self.join()


def start(schedule_file: Path | None = None) -> Background:
    """Start the thread. ImproperlyConfigured when tasks are not eager, or a scheduled task was not found.

    Called by the demo command only: several web workers, or a reloader, would each start one.
    """
    if not app.conf.task_always_eager:
        raise ImproperlyConfigured("Work in the background of one process needs eager tasks: INTERVALE_MODE=embedded")
    app.loader.import_default_modules()
    missing = sorted({entry["task"] for entry in app.conf.beat_schedule.values()} - set(app.tasks))
    if missing:
        raise ImproperlyConfigured(f"scheduled tasks that no app defines: {', '.join(missing)}")
    thread = Background(schedule_file or settings.DATA / "beat")
    thread.start()
    return thread
