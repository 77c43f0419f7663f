"""A phone hands over the sessions it kept."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from django.utils.translation import gettext_noop

from clinic.people.models import User
from programs.following.actions.log_sessions import log_sessions
from programs.following.rules.entry import SessionEntry
from programs.portal.queries.own import programs_showing

UNKNOWN_PLAN = gettext_noop("This session belongs to a plan that is not yours, or that we do not know.")


@dataclass(frozen=True, slots=True)
class Handed:
    """What became of one entry, at its place in the batch."""

    place: int
    log_id: UUID
    result: str                   # stored | already | edited | refused
    older_plan: bool = False
    code: str = ""
    reason: str = ""
    errors: dict[str, str] = field(default_factory=dict)


def log_own_sessions(*, by: User, entries: dict[int, SessionEntry], now: datetime) -> list[Handed]:
    """Log the entries, numbered by their place in the batch; they may belong to several programs of this client.

    Each is stored or refused by itself, so that one bad entry loses nothing else.
    """
    programs = programs_showing(by, {entry.revision for entry in entries.values()})
    results: list[Handed] = []
    groups: dict[int, list[int]] = {}
    for place, entry in entries.items():
        program = programs.get(entry.revision)
        if program is None:
            results.append(Handed(place, entry.log_id, "refused", False, "unknown_plan", UNKNOWN_PLAN))
        else:
            groups.setdefault(program.pk, []).append(place)
    by_key = {program.pk: program for program in programs.values()}
    for key, places in groups.items():
        outcomes = log_sessions(by=by, program=by_key[key], entries=[entries[place] for place in places], now=now)
        for place, outcome in zip(places, outcomes, strict=True):
            results.append(
                Handed(
                    place, entries[place].log_id, outcome.result, outcome.older_plan, outcome.code, outcome.sentence,
                    outcome.fields,
                )
            )
    return sorted(results, key=lambda handed: handed.place)
