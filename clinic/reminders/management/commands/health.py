"""Whether messages are being delivered, as an exit status: for a container's health check."""

from __future__ import annotations

import json
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError
from django.utils import timezone

from clinic.reminders.queries import health


class Command(BaseCommand):
    help = "Exit 0 when the database answers and messages are being delivered, else 1 with the reason."
    requires_system_checks: list[str] = []

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            state = health(timezone.now())
        except DatabaseError:
            raise CommandError("the database does not answer") from None
        said = json.dumps(state.parts())
        if not state.ready:
            raise CommandError(said)
        self.stdout.write(said)
