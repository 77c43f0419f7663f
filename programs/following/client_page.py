"""The parts of a client's and a program's page that tell how it goes at home; for clinicians and leads only."""

from __future__ import annotations

from typing import Any

from clinic.people import sections
from programs.following import queries
from programs.following.notes import unread_by_program
from programs.following.vocab import Band
from programs.following.words import BANDS

MOST = 5


def build(user: Any, client: Any) -> dict[str, Any] | None:
    """Each open program with its band and share, and how many suggestions wait. None for the front desk."""
    if user.role not in queries.CLINICAL:
        return None
    programs = list(queries.open_programs_of(client)[:MOST])
    keys = [program.pk for program in programs]
    states, unread = queries.states_of(keys), unread_by_program(keys, from_client=True)
    lines = []
    for program in programs:
        state = states.get(program.pk)
        shape, word = BANDS[Band(state.band)] if state else BANDS[Band.NEW]
        lines.append({
            "program": program, "state": state, "shape": shape, "word": word, "unread": unread.get(program.pk, 0)
        })
    return {"lines": lines, "waiting": queries.open_suggestions(user).filter(program__client=client).count()}


def build_for_program(user: Any, program: Any) -> dict[str, Any] | None:
    """How it goes and how many notes of the client wait to be read."""
    if user.role not in queries.CLINICAL:
        return None
    state = queries.states_of([program.pk]).get(program.pk)
    shape, word = BANDS[Band(state.band)] if state else BANDS[Band.NEW]
    return {
        "program": program, "state": state, "shape": shape, "word": word,
        "unread": unread_by_program([program.pk], from_client=True).get(program.pk, 0),
    }


sections.register(sections.Section(
    order=10, template="following/program_section.html", build=build_for_program, place="program"
))
sections.register(sections.Section(order=50, template="following/client_section.html", build=build))
