"""The part of a client's page that holds the home programs; for clinicians and leads only."""

from __future__ import annotations

from typing import Any

from django.utils import timezone

from clinic.people import sections
from clinic.people.queries import episodes_for
from clinic.people.rules import zones
from clinic.people.vocab import EpisodeStatus, Role
from programs.prescribing import queries
from programs.prescribing.screening import standing_of
from programs.prescribing.vocab import ProgramStatus

MOST = 8


def build(user: Any, client: Any) -> dict[str, Any] | None:
    """Programs, the newest first, and the open episodes that have none yet. None for the front desk."""
    if user.role not in (Role.CLINICIAN, Role.LEAD):
        return None
    programs = list(queries.programs_for(user).filter(client=client).order_by("-starts", "-pk")[:MOST])
    running = {program.episode_id for program in programs if program.status in queries.OPEN}
    episodes = episodes_for(user).filter(client=client, status=EpisodeStatus.ACTIVE)[:MOST]
    shapes = {ProgramStatus.ACTIVE: "good", ProgramStatus.ON_HOLD: "wait"}
    return {
        "standing": standing_of(client, zones.day_in(timezone.now(), client.zone)),
        "lines": [(program, shapes.get(ProgramStatus(program.status), "done")) for program in programs],
        "without": [episode for episode in episodes if episode.pk not in running] if user.role == Role.CLINICIAN else [],
    }


sections.register(sections.Section(order=40, template="prescribing/client_section.html", build=build))
