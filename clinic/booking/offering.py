"""Openings as they are shown and sent back: the edge of booking, shared by its pages."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.utils import dateformat

from clinic.booking.queries import Opening
from clinic.booking.wording import reasons_in_words
from clinic.people.refusal import Refusal
from clinic.people.rules import zones


@dataclass(frozen=True)
class Offer:
    """An opening as a button: `value` goes back to the server, the rest is read."""

    value: str
    day: str
    time: str
    clinician: str
    room: str
    reasons: str
    places: str = ""   # of a group


def offer_of(opening: Opening, zone: str) -> Offer:
    """An opening in words, on the clock of the site."""
    local = opening.starts.astimezone(zones.zone(zone))
    return Offer(
        f"{opening.clinician.public_id} {opening.starts.isoformat()}", dateformat.format(local, "l j F"),
        f"{local:%H:%M}", opening.clinician.name, opening.room.name, reasons_in_words(opening.reasons),
        "" if opening.left is None else f"{opening.left} of {opening.places} places left",
    )


def offers_in(refusal: Refusal | None, zone: str) -> list[Offer]:
    """The next openings that a refusal carries."""
    found = []
    for entry in refusal.numbers.get("openings", []) if refusal else []:
        local = datetime.fromisoformat(entry["starts"]).astimezone(zones.zone(zone))
        found.append(Offer(
            f"{entry['clinician']} {entry['starts']}", dateformat.format(local, "l j F"), f"{local:%H:%M}",
            entry["clinician_name"], entry["room"], "",
        ))
    return found


def said(visit: Any) -> str:
    """Day, time, clinician and room of a visit, in words."""
    local = visit.starts.astimezone(zones.zone(visit.site.zone))
    return f"{dateformat.format(local, 'l j F, H:i')}, with {visit.clinician.name} in {visit.room.name}"
