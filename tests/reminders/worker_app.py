"""The Celery application of the project with the tests' kinds of message known to it."""

from clinic.project.celery import app
from clinic.reminders.kinds import register
from tests.reminders.kinds import KINDS

for kind in KINDS:
    register(kind)

__all__ = ["app"]
