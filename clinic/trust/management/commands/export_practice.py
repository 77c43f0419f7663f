"""Write the whole practice into one file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from clinic.trust import moving


class Command(BaseCommand):
    help = "Writes every record into a ZIP that import_practice brings into an empty installation, on either engine."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            parts = moving.write(options["file"], timezone.now())
        except FileExistsError as error:
            raise CommandError(f"{options['file']} is there already; name another file.") from error
        self.stdout.write(f"{sum(part.rows for part in parts)} rows of {len(parts)} kinds are in {options['file']}.")
        self.stdout.write("It holds health data in plain text: keep it as safe as the database.")
