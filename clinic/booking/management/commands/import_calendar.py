"""Import a clinician's own calendar as busy time."""

from __future__ import annotations

import argparse
from datetime import timedelta
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from clinic.booking.actions.import_busy import import_busy
from clinic.booking.queries import clinician_mailed
from clinic.booking.rules.busy import LARGEST, Unreadable, busy_time
from clinic.people.queries import system_actor
from clinic.people.rules import zones

MOST_DAYS = 731


class Command(BaseCommand):
    help = "Take over an .ics file as time in which a clinician is not booked; a later file replaces it."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--clinician", required=True, metavar="EMAIL")
        parser.add_argument("--days", type=int, default=183, help=f"how far ahead, up to {MOST_DAYS}")
        parser.add_argument("--dry-run", action="store_true", help="say what is in it and write nothing")

    def handle(self, *args: Any, **options: Any) -> None:
        now, path = timezone.now(), options["file"]
        clinician = clinician_mailed(options["clinician"])
        site = clinician.sites.order_by("pk").first() if clinician else None
        if clinician is None or site is None:
            raise CommandError("--clinician is nobody who works here as a clinician.")
        if not 1 <= options["days"] <= MOST_DAYS:
            raise CommandError(f"--days must be between 1 and {MOST_DAYS}.")
        try:
            with path.open("rb") as file:
                content = file.read(LARGEST + 1)
        except OSError as error:
            raise CommandError(f"{path} cannot be opened: {error.strerror}.") from error
        first = zones.day_in(now, site.zone)
        try:
            spans = busy_time(content, site.zone, first, first + timedelta(days=options["days"]))
        except Unreadable as problem:
            faults = [*problem.faults[:20], *(["…"] if len(problem.faults) > 20 else [])]
            raise CommandError("\n".join([f"{path.name}:", *faults, "Nothing was imported."])) from problem
        if options["dry_run"]:
            self.stdout.write(f"Dry run: {len(spans)} times would be taken over. Nothing was written.")
            return
        times, clashes = import_busy(by=system_actor(), clinician=clinician, spans=spans, now=now)
        self.stdout.write(f"{times} times are closed for booking. {clashes} visits already booked stand in them.")
