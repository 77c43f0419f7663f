"""Who kept going and who fell silent, over a practice: the rows a drop-out curve is drawn from."""

from __future__ import annotations

from dataclasses import dataclass

from clinic.people.models import User
from programs.following.models import PhaseRun
from programs.following.rules.survival import Followed
from programs.prescribing.queries import programs_for


@dataclass(frozen=True, slots=True)
class DropOutRow:
    """One program: the day (1 is its first) of its first long silence, or the last day it was followed without one."""

    program_id: int
    day: int
    dropped_out: bool


def drop_out_rows(user: User) -> list[DropOutRow]:
    """A row for every program of one's clients that has at least one whole day; one query.

    Silent for as many days in a row as the rule set's bands say counts as dropped out, whether or not the client came back
    later. Read from the rows that following keeps (rules.runs), as of the day each program was last worked out.
    """
    rows = PhaseRun.objects.filter(number=0, kept__gt=0, program__in=programs_for(user).order_by())
    return [DropOutRow(*values) for values in rows.values_list("program", "kept", "lapsed")]


def people_of(rows: list[DropOutRow]) -> list[Followed]:
    """The rows as the curve takes them."""
    return [Followed(row.day, row.dropped_out) for row in rows]
