"""Bring a whole practice into an empty installation."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from clinic.people.refusal import Refusal
from clinic.trust import moving


class Command(BaseCommand):
    help = "Reads what export_practice wrote, all or nothing, proves the counts and the trail, and holds the outbox."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["file"].is_file():
            raise CommandError(f"There is no file {options['file']}.")
        try:
            parts = moving.read(options["file"], timezone.now())
        except Refusal as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(f"{sum(part.rows for part in parts)} rows of {len(parts)} kinds are in; the trail is whole.")
        self.stdout.write("No message leaves until the lead lets them go on the page of messages.")
