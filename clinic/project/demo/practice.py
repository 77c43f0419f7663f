"""The invented practice: site, staff, rooms, hours, visit types, and the house's own reference data."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time

from clinic.booking.models import Room, VisitType, WorkingHours
from clinic.people.models import Site, Staff, User
from clinic.people.vocab import Role
from clinic.project.demo.people import SITE, STAFF
from clinic.visits.actions.load_measures import load_measures
from programs.following.actions.load_rule_set import load_rule_set
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates

HOURS = (("MO,TU,WE,TH,FR", time(9), time(17)), ("MO,TU,TH,FR", time(8), time(16)), ("TU,WE,TH,FR", time(10), time(18)))
FIRST_DAY = date(2024, 1, 1)


@dataclass(frozen=True)
class Practice:
    """What the clients' stories need: clinician i works in room i."""

    site: Site
    desk: Staff
    lead: Staff
    clinicians: tuple[Staff, ...]
    rooms: tuple[Room, ...]
    first: VisitType
    follow_up: VisitType
    review: VisitType


def reference_data(now: datetime) -> None:
    """Load the exercise library, the templates, the measures and the first rule set."""
    load_library()
    load_templates()
    load_measures()
    load_rule_set(now=now)


def found_practice() -> Practice:
    """Create the practice. Staff have no password: the demo signs in as anyone from its chooser."""
    site = Site.objects.create(**SITE)
    staff: dict[str, list[Staff]] = {}
    for name, role, letters in STAFF:
        address = f"{name.split()[0].lower()}@tidewater.example"
        person = Staff.objects.create(user=User.objects.create_user(address, role), name=name, credentials=letters)
        person.sites.add(site)
        staff.setdefault(role, []).append(person)
    clinicians = tuple(staff[Role.CLINICIAN])
    for clinician, (days, starts, ends) in zip(clinicians, HOURS, strict=True):
        WorkingHours.objects.create(
            clinician=clinician, site=site, rule=f"FREQ=WEEKLY;BYDAY={days}", first_day=FIRST_DAY, starts=starts, ends=ends
        )
    names = ("Harbour room", "Orchard room", "Long hall")
    return Practice(
        site=site, desk=staff[Role.FRONT_DESK][0], lead=staff[Role.LEAD][0], clinicians=clinicians,
        rooms=tuple(Room.objects.create(site=site, name=name, features=["table", "open_floor"]) for name in names),
        first=_type("first", "First visit", 50, cleanup_minutes=10),
        follow_up=_type("follow-up", "Follow-up", 25, cleanup_minutes=5, clients_may_book=True),
        review=_type("review", "Reassessment", 40, cleanup_minutes=5, is_reassessment=True),
    )


def _type(code: str, name: str, minutes: int, **more: object) -> VisitType:
    return VisitType.objects.create(code=code, name=name, minutes=minutes, room_features=["table"], **more)
