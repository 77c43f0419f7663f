"""Who kept going and who fell silent, over a practice: the rows a drop-out curve is drawn from."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from operator import attrgetter

from clinic.people.models import User
from clinic.people.rules import zones
from programs.following.models import DayRecord
from programs.following.rules.adherence import Counted
from programs.following.rules.survival import Followed, followed
from programs.prescribing.queries import programs_for


@dataclass(frozen=True, slots=True)
class DropOutRow:
    """One program: the day (1 is its first) of its first long silence, or the last day it was followed without one."""

    program_id: int
    day: int
    dropped_out: bool


def drop_out_rows(user: User, now: datetime, silent_days: int) -> list[DropOutRow]:
    """A row for every program of one's clients that has at least one whole day; one query, one program in memory at a time.

    Silent for `silent_days` days in a row counts as dropped out, whether or not the client came back later.
    """
    found = []
    for program, outcome in _followed(user, now, silent_days):
        if outcome:
            found.append(DropOutRow(program, outcome.day, outcome.dropped_out))
    return found


def people_of(rows: list[DropOutRow]) -> list[Followed]:
    """The rows as the curve takes them."""
    return [Followed(row.day, row.dropped_out) for row in rows]


def _followed(user: User, now: datetime, silent_days: int) -> Iterator[tuple[int, Followed | None]]:
    records = (
        DayRecord.objects.filter(program__in=programs_for(user).order_by())
        .select_related("program__client")
        .only(
            "program__client__zone", "program_id", "day", "state", "prescribed_sessions", "credit", "sessions_done", "logged",
            "done_seconds", "prescribed_full",
        )
        .order_by("program", "day").iterator(chunk_size=2000)
    )
    for program, rows in groupby(records, key=attrgetter("program_id")):
        held = list(rows)
        today = zones.day_in(now, held[0].program.client.zone)
        yield program, followed((_counted(row) for row in held), today, silent_days)


def _counted(row: DayRecord) -> Counted:
    return Counted(
        row.day, row.state, row.prescribed_sessions, row.credit, row.sessions_done, row.logged,   # type: ignore[arg-type]
        row.done_seconds, row.prescribed_full,
    )
