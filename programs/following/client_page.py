"""The part of a client's page that tells how the home program goes; for clinicians and leads only."""

from __future__ import annotations

from typing import Any

from clinic.people import sections
from programs.following import queries
from programs.following.vocab import Band
from programs.following.words import BANDS

MOST = 5


def build(user: Any, client: Any) -> dict[str, Any] | None:
    """Each open program with its band and share, and how many suggestions wait. None for the front desk."""
    if user.role not in queries.CLINICAL:
        return None
    programs = list(queries.open_programs_of(client)[:MOST])
    states = queries.states_of([program.pk for program in programs])
    lines = []
    for program in programs:
        state = states.get(program.pk)
        shape, word = BANDS[Band(state.band)] if state else BANDS[Band.NEW]
        lines.append({"program": program, "state": state, "shape": shape, "word": word})
    return {"lines": lines, "waiting": queries.open_suggestions(user).filter(program__client=client).count()}


sections.register(sections.Section(order=50, template="following/client_section.html", build=build))
