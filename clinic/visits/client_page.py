"""The part of a client's page that tells about reassessments; for the desk as well, so without any value."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from clinic.people import sections
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits import queries
from clinic.visits.vocab import ReassessmentReason, ReassessmentStatus
from clinic.visits.wording import state_words

MOST = 6


def build(user: Any, client: Any) -> dict[str, Any] | None:
    """Open reassessments of the client and, for clinicians and leads, the ways to measures and the visit record."""
    site = client.site
    today = zones.day_in(timezone.now(), site.zone)
    rows = queries.reassessments_for(user).filter(episode__client=client, status=ReassessmentStatus.OPEN)
    lines = []
    for row in rows[:MOST]:
        shape, word = state_words(queries.row_of(row, today), site.zone)
        lines.append({"row": row, "reason": ReassessmentReason(row.reason).label, "shape": shape, "word": word})
    clinical = user.role in queries.CLINICAL
    return {
        "lines": lines,
        "clinical": clinical,
        "may_book": user.role in {Role.FRONT_DESK, Role.CLINICIAN},
        "may_record": user.role == Role.CLINICIAN,
        "episodes": list(client.episodes.all()[:MOST]) if clinical else [],
    }


sections.register(sections.Section(order=30, template="visits/client_section.html", build=build))
