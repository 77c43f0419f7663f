"""A small practice to import into, set up without fixtures so that one import can serve a whole module of tests."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import time_machine
from django.apps import apps
from django.core.management import call_command

from clinic.booking.models import Room, VisitType
from clinic.people.models import Site, Staff, User
from clinic.people.vocab import Role
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates
from tests.conftest import NOW

MESSY = Path(__file__).resolve().parents[2] / "fixtures" / "messy_export"


def open_practice() -> Site:
    """Tidewater Lane as in the demo: two clinicians, two rooms, three visit types, the library and the templates."""
    site = Site.objects.create(
        name="Tidewater Lane", zone="Europe/London", phone="+441632960100", emergency_number="999", region_code="GB"
    )
    for name in ("Rasmus Okoro", "Noor Halloran"):
        user = User.objects.create_user(f"{name.split()[0].lower()}@tidewater.example", Role.CLINICIAN)
        Staff.objects.create(user=user, name=name).sites.add(site)
    for name in ("Room 1", "Hall"):
        Room.objects.create(site=site, name=name, features=["table"])
    for code, name, minutes in (("first", "First visit", 60), ("follow-up", "Follow-up", 30), ("review", "Review", 45)):
        VisitType.objects.create(code=code, name=name, minutes=minutes, cleanup_minutes=5)
    load_library()
    load_templates()
    return site


def bring_in(folder: Path, report: Path, **options) -> tuple[str, list[dict[str, str]]]:
    """(what was printed, the report's rows) of one run of the command on 2 March 2026."""
    out = io.StringIO()
    with time_machine.travel(NOW, tick=False):
        call_command(
            "import_sheets", str(folder), site="Tidewater Lane", report=report, stdout=out, quiet=True, **options
        )
    with report.open(encoding="utf-8-sig", newline="") as stream:
        return out.getvalue(), list(csv.DictReader(stream))


def row_counts() -> dict[str, int]:
    """Rows of every table there is."""
    return {model._meta.label: model._default_manager.count() for model in apps.get_models(include_auto_created=True)}
