"""Work every day record and program state out anew from the logs and compare with what is stored."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from programs.following.actions.rebuild_following import rebuild_following

MOST_SHOWN = 50


class Command(BaseCommand):
    help = "Work day records and states out anew from logs, revisions and pauses; say where the stored ones differ."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--write", action="store_true", help="store what was worked out")

    def handle(self, *args: Any, **options: Any) -> None:
        found = rebuild_following(now=timezone.now(), write=options["write"])
        for line in found.differences[:MOST_SHOWN]:
            self.stderr.write(line)
        if found.differences and not options["write"]:
            raise CommandError(f"{len(found.differences)} differences. --write stores what was worked out.")
        self.stdout.write(f"{found.programs} programs, {found.days} days, {len(found.differences)} differences.")
