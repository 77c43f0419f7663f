"""Prove that days and states follow from the records: work all of them out anew and compare."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.db import transaction

from programs.following.actions import saving
from programs.following.models import DayRecord, ProgramState
from programs.following.queries import course_of
from programs.following.rules.fold import Folded, fold
from programs.prescribing.models import Program


@dataclass(slots=True)
class Rebuilt:
    """How many programs were looked at, and what differed, as `program: what`."""

    programs: int = 0
    days: int = 0
    differences: list[str] = field(default_factory=list)


@transaction.atomic
def rebuild_following(*, now: datetime, write: bool = False) -> Rebuilt:
    """Fold every program as of the day its stored state is of and compare row by row; with `write` store the result."""
    _, rules = saving.rules_now(now)
    found = Rebuilt()
    for state in ProgramState.objects.select_related("program__client").order_by("program").iterator(chunk_size=100):
        program = state.program
        folded = fold(course_of(program), state.as_of, rules.bands)
        found.programs += 1
        found.days += len(folded.days)
        found.differences += [f"{program.public_id}: {what}" for what in _differences(program, state, folded)]
        if write:
            saving.save(program, folded)
    return found


def _differences(program: Program, state: ProgramState, folded: Folded) -> list[str]:
    held = {row.day: row for row in DayRecord.objects.filter(program=program)}
    found = [f"{day} is stored and does not follow" for day in sorted(set(held) - {day.day for day in folded.days})]
    for day in folded.days:
        row = held.get(day.day)
        if row is None:
            found.append(f"{day.day} follows and is not stored")
        else:
            found += [
                f"{day.day} {name} differs"
                for name in saving.DAY_FIELDS if getattr(row, name) != getattr(day, name)
            ]
    values = saving.state_values(folded)
    found += [
        f"state {name} differs"
        for name in saving.STATE_FIELDS if getattr(state, name) != values[name]
    ]
    return found
