"""The kinds of message about reassessments."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.reminders.kinds import Kind, Wording, register
from clinic.visits.models import Reassessment
from clinic.visits.vocab import ReassessmentStatus


def still_due(message: Any, now: datetime) -> str | None:
    """Ask again just before sending: None while the look is open, not booked, and due on the day the message was made for."""
    row = (
        Reassessment.objects.filter(public_id=message.about.partition(":")[2])
        .select_related("episode__client__site")
        .first()
    )
    if row is None:
        return "gone"
    if row.status != ReassessmentStatus.OPEN:
        return "closed"
    if row.appointment_id is not None:
        return "booked"
    if message.dedup_key.split(":")[2] != row.due.isoformat():
        return "moved"
    if zones.day_in(now, row.episode.client.site.zone) < row.earliest:
        return "too_early"
    return None


def desk_still_due(message: Any, now: datetime) -> str | None:
    """The same for the desk, and only for someone who still works there."""
    user = message.staff.user
    if not user.is_active or user.role != Role.FRONT_DESK:
        return "not_at_the_desk"
    return still_due(message, now)


DUE = Kind(
    code="reassessment_due",
    label="Time to look again",
    wordings={
        "en": Wording(
            subject="Time for your next look at {clinic}",
            body=(
                "Hello {first_name},\n\nyour next look at how things are going is due on {day}. "
                "Please ring us on {phone} and we will find a time that suits you.\n\n{clinic}\n{url}"
            ),
        ),
        "es": Wording(
            subject="Toca revisión en {clinic}",
            body=(
                "Hola, {first_name}:\n\nsu próxima revisión es el {day}. "
                "Llámenos al {phone} y buscaremos una hora que le venga bien.\n\n{clinic}\n{url}"
            ),
        ),
    },
    still_wanted=still_due,
)
OVERDUE = Kind(
    code="reassessment_overdue",
    label="A reassessment is overdue",
    wordings={
        "en": Wording(
            subject="A reassessment is overdue",
            body=(
                "Hello {first_name},\n\na reassessment that was due on {day} is not booked yet. "
                "It is on the list of reassessments.\n\n{clinic}\n{url}"
            ),
        )
    },
    still_wanted=desk_still_due,
    needs_consent=False,
)
register(DUE)
register(OVERDUE)
