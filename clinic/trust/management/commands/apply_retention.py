"""Say, or take out, what is kept no more by the settings of the sites."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser
from django.utils import timezone

from clinic.people.queries import system_actor
from clinic.trust import keeping
from clinic.trust.actions.apply_retention import apply_retention


class Command(BaseCommand):
    help = "Counts what is kept no more by the settings of each site; with --write takes it out, for good."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--write", action="store_true", help="take it out; without it nothing changes")

    def handle(self, *args: Any, **options: Any) -> None:
        now = timezone.now()
        if options["write"]:
            done = apply_retention(by=system_actor(), now=now)
            self.stdout.write("; ".join(f"{kind}: {done[kind]}" for kind in sorted(done)) or "Everything is kept for ever.")
            return
        for name, found in keeping.forecast(now):
            for kind, number in found:
                self.stdout.write(f"{name}: {kind}: {number}")
        self.stdout.write("Nothing was changed. --write takes out what is counted here, for good.")
