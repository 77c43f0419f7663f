"""The invented practice, from its file."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import time

from django.conf import settings

from clinic.booking.models import Room, VisitType, WorkingHours
from clinic.people.models import Site, Staff
from clinic.people.vocab import Role
from clinic.project.clinic_file import load_clinic

FILE = settings.ROOT / "fixtures" / "demo" / "clinic.json"


@dataclass(frozen=True)
class Practice:
    """What the clients' stories need: clinician i works in room i, on `hours[i]` (days, from, until)."""

    site: Site
    desk: Staff
    lead: Staff
    clinicians: tuple[Staff, ...]
    rooms: tuple[Room, ...]
    hours: tuple[tuple[str, time, time], ...]
    first: VisitType
    follow_up: VisitType
    review: VisitType
    group: VisitType


def found_practice() -> Practice:
    """Load the practice. Nobody has a password: the demo signs in as anyone from its chooser."""
    site = load_clinic(FILE)
    people = list(Staff.objects.filter(sites=site).select_related("user").order_by("pk"))
    clinicians = tuple(person for person in people if person.user.role == Role.CLINICIAN)
    spans = {row.clinician_id: row for row in WorkingHours.objects.filter(site=site)}
    kinds = {kind.code: kind for kind in VisitType.objects.all()}
    return Practice(
        site=site,
        desk=next(person for person in people if person.user.role == Role.FRONT_DESK),
        lead=next(person for person in people if person.user.role == Role.LEAD),
        clinicians=clinicians,
        rooms=tuple(Room.objects.filter(site=site).order_by("pk")),
        hours=tuple((spans[row.pk].rule.split("BYDAY=")[1], spans[row.pk].starts, spans[row.pk].ends) for row in clinicians),
        first=kinds["first"], follow_up=kinds["follow-up"], review=kinds["review"],
        group=kinds["balance"],
    )
