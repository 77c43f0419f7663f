"""List visits ahead that a changed time zone has given another local time."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from clinic.booking.rechecking import shifted


class Command(BaseCommand):
    help = "After an update of the time zone database: visits whose local time is not the one agreed. Moves none of them."

    def handle(self, *args: Any, **options: Any) -> None:
        count = 0
        for each in shifted(timezone.now()):
            count += 1
            self.stdout.write(
                f"/booking/{each.public_id}/ at {each.site}: agreed for {each.agreed:%Y-%m-%d %H:%M}, "
                f"now at {each.shown:%Y-%m-%d %H:%M}"
            )
        verb = "visit has" if count == 1 else "visits have"
        self.stdout.write(f"{count} {verb} another local time than agreed. Nothing was moved.")
