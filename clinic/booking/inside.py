"""What is booked in hours that somebody wants to close."""

from __future__ import annotations

from clinic.booking.models import Appointment
from clinic.people.refusal import Refusal
from clinic.people.rules import zones

NAMED = 5    # visits named in the sentence …
LISTED = 50  # … and listed behind it


def refuse(visits: list[Appointment], where: str, then: str) -> Refusal:
    """Refusal `visits_inside` (409) that names the visits by their time, and lists them (visits=)."""
    count = "A visit is" if len(visits) == 1 else f"{len(visits)} visits are"
    local = [visit.starts.astimezone(zones.zone(visit.site.zone)) for visit in visits[:NAMED]]
    times = ", ".join(f"{at.day} {at:%B %H:%M}" for at in local) + (" …" if len(visits) > NAMED else "")
    return Refusal(
        "visits_inside", f"{count} booked {where} ({times}). {then}", status=409,
        visits=[{"id": str(visit.public_id), "starts": visit.starts.isoformat()} for visit in visits[:LISTED]],
    )
