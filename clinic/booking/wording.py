"""Words for codes, and shapes for statuses: the edge of booking."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from clinic.booking.vocab import AppointmentStatus, ChangeKind
from clinic.people.rules import zones

# shape of parts/state.html for each status
SHAPES = {
    AppointmentStatus.PROPOSED: "silent",
    AppointmentStatus.PENDING: "silent",
    AppointmentStatus.WAITLIST: "silent",
    AppointmentStatus.BOOKED: "wait",
    AppointmentStatus.ARRIVED: "part",
    AppointmentStatus.CHECKED_IN: "good",
    AppointmentStatus.FULFILLED: "done",
    AppointmentStatus.CANCELLED: "silent",
    AppointmentStatus.NOSHOW: "low",
    AppointmentStatus.ENTERED_IN_ERROR: "silent",
}
REASONS = {
    "in_window": "inside the due window",
    "before_window": "before the due window",
    "after_window": "after the due window",
    "same_clinician": "their own clinician",
    "usual_time": "their usual time of day",
    "no_gap": "leaves no gap too short to use",
    "leaves_gap": "leaves a gap too short to use",
}
# what a button says that marks a visit so
STEPS = {
    "booked": "Back to booked",
    "arrived": "Arrived",
    "checked-in": "Check in",
    "fulfilled": "Finish",
    "noshow": "No-show",
    "entered-in-error": "Entered in error",
}


def reasons_in_words(codes: tuple[str, ...]) -> str:
    """One phrase of the reasons why an opening stands where it stands."""
    text = ", ".join(REASONS[code] for code in codes)
    return text[:1].upper() + text[1:]


def choices_in_words(choices: list[datetime], zone: str) -> list[dict[str, str]]:
    """Instants to choose from, each with its local time and offset."""
    place = zones.zone(zone)
    return [
        {"start": choice.astimezone(place).isoformat(), "words": f"{choice.astimezone(place):%H:%M %Z}"}
        for choice in choices
    ]


def change_in_words(change: Any, zone: str) -> str:
    """What was done to a visit, and what it would be again."""
    visit = change.appointment
    if change.kind == ChangeKind.MOVED:
        was = datetime.fromisoformat(change.before["starts"]).astimezone(zones.zone(zone))
        return f"{visit.client.name} was moved from {was:%A}, {was:%H:%M}."
    was_status = AppointmentStatus(change.before["status"]).label.lower()
    return f"{visit.client.name} is {visit.get_status_display().lower()}, and was {was_status}."
