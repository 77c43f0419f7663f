"""The Celery application of the project with the tests' kinds of message known to it."""

from clinic.project.celery import app
from tests.reminders import kinds

__all__ = ["app", "kinds"]
