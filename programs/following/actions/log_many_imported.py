"""Take in many sessions of a sheet at once, of whatever programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.following.actions.store_entry import Edits, Judged, judge, write_all
from programs.following.models import ProgramState
from programs.following.queries import Shown
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from programs.prescribing.models import Program

OF_NO_RULES = 0


@dataclass(frozen=True, slots=True)
class Arriving:
    """A session of a sheet with its program, which comes with its client, and the versions that may be answered."""

    program: Program
    shown: dict[UUID, Shown]
    entry: SessionEntry


@transaction.atomic
def log_many_imported(
    *, by: User, arriving: Sequence[Arriving], edits: Edits, now: datetime
) -> list[Refusal | None]:
    """Store them in a few statements, and nothing else: None for each that was stored, else why it was not (see `judge`).

    The caller holds the programs' locks, and says what is there of these sessions; no session comes twice. The programs'
    states are marked as worked out by no rules, so that the next tick brings them up to date even if whoever called this
    never calls `follow_programs`.
    """
    answers: list[Refusal | None] = []
    taken: list[tuple[Program, Judged]] = []
    for each in arriving:
        try:
            judged = judge(each.program, each.shown, each.entry, edits, now, LogSource.IMPORT)
        except Refusal as refused:
            answers.append(refused)
            continue
        answers.append(None)
        if isinstance(judged, Judged):
            taken.append((each.program, judged))
    if taken:
        write_all(by, taken, now, LogSource.IMPORT)
        behind = {program.pk for program, _ in taken}
        ProgramState.objects.filter(program__in=behind).exclude(rules=OF_NO_RULES).update(rules=OF_NO_RULES)
    return answers
