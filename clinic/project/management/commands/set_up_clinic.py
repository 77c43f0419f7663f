"""Set up a clinic from one file: reference data, site, rooms, visit types, staff and their hours."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management import CommandError
from django.core.management.base import BaseCommand
from django.utils import timezone

from clinic.project.clinic_file import BadClinicFile, load_clinic
from clinic.project.reference import load_reference


class Command(BaseCommand):
    help = "Load the exercise library and a clinic's own file (fixtures/demo/clinic.json shows its form)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)

    def handle(self, *args: Any, **options: Any) -> None:
        if not options["file"].is_file():
            raise CommandError(f"There is no file {options['file']}.")
        load_reference(timezone.now())
        try:
            site = load_clinic(options["file"])
        except BadClinicFile as error:
            raise CommandError(f"Nothing was changed. {error}") from error
        self.stdout.write(
            f"{site.name} is set up. Staff choose their password by “Forgotten it?” on the sign-in page, "
            "then add a second factor."
        )
