"""The kind of message about records opened beyond one's caseload."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from clinic.people.vocab import Role
from clinic.reminders.kinds import Kind, Wording, register


def still_a_lead(message: Any, now: datetime) -> str | None:
    """Only for someone who still leads the practice."""
    user = message.staff.user
    return None if user.is_active and user.role == Role.LEAD else "not_a_lead"


register(
    Kind(
        code="record_opened",
        label="A record was opened beyond a caseload",
        wordings={
            "en": Wording(
                subject="A client's record was opened beyond a caseload",
                body=(
                    "Hello {first_name},\n\na clinician opened the record of a client who is not on their caseload, "
                    "and gave a reason. Please read it on the page of openings.\n\n{clinic}\n{url}"
                ),
            )
        },
        still_wanted=still_a_lead,
        needs_consent=False,
    )
)
