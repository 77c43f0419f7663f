"""Take in what a phone has kept while it was offline: many sessions at once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.following.actions.follow_program import follow_program
from programs.following.actions.store_entry import LogOutcome, store_entry
from programs.following.queries import Shown, shown_of
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from programs.prescribing.models import Program
from programs.prescribing.queries import locked


@transaction.atomic
def log_sessions(
    *, by: User, program: Program, entries: Iterable[SessionEntry], now: datetime, source: str = LogSource.PORTAL
) -> list[LogOutcome]:
    """One outcome per entry, in order. An entry that cannot be taken is `refused` with its reason and costs no other.

    The fold runs once, after the last.
    """
    program = locked(program)
    shown = shown_of(program)
    outcomes = [_stored(by, program, shown, entry, now, source) for entry in entries]
    if any(outcome.result in {"stored", "edited"} for outcome in outcomes):
        follow_program(program=program, now=now)
    return outcomes


def _stored(
    by: User, program: Program, shown: dict[UUID, Shown], entry: SessionEntry, now: datetime, source: str
) -> LogOutcome:
    try:
        with transaction.atomic():
            return store_entry(by=by, program=program, shown=shown, entry=entry, now=now, source=source)
    except Refusal as refused:
        return LogOutcome(
            str(entry.log_id), "refused", code=refused.code, sentence=refused.sentence, fields=refused.fields
        )
