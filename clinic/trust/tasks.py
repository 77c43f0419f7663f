"""Background work of trust."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from clinic.trust.actions.seal_trail import seal_trail


@shared_task(name="trust.seal")
def seal() -> None:
    """Seal what was recorded since the last tick."""
    seal_trail(now=timezone.now())
