"""Bring a whole practice into an empty installation."""

from __future__ import annotations

import time
from pathlib import Path
from typing import Any
from uuid import UUID

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from clinic.people.refusal import Refusal
from clinic.trust import moving


class Command(BaseCommand):
    help = "Reads what export_practice wrote, all or nothing, proves the counts and the trail, and holds the outbox."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument(
            "--erased", type=Path, metavar="LIST",
            help="a text file with the id of each client who was erased after the copy was made, one a line "
            '("person_erased" in the log names them)',
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["file"].is_file():
            raise CommandError(f"There is no file {options['file']}.")
        erased, started = _ids(options["erased"]), time.monotonic()
        try:
            parts = moving.read(options["file"], timezone.now(), erased)
        except Refusal as refused:
            raise CommandError(refused.sentence) from refused
        self.stdout.write(f"{sum(part.rows for part in parts)} rows of {len(parts)} kinds are in; the trail is whole.")
        self.stdout.write(f"It took {time.monotonic() - started:.1f} seconds. {len(erased)} clients were erased again.")
        self.stdout.write("No message leaves until the lead lets them go on the page of messages.")


def _ids(path: Path | None) -> list[UUID]:
    """The ids of a list, one a line; what stands behind a # is not read."""
    if path is None:
        return []
    if not path.is_file():
        raise CommandError(f"There is no file {path}.")
    found = []
    for number, line in enumerate(path.read_text("utf-8").splitlines(), start=1):
        word = line.partition("#")[0].strip()
        try:
            found += [UUID(word)] if word else []
        except ValueError:
            raise CommandError(f"{path}, line {number}: this is not the id of a client.") from None
    return found
