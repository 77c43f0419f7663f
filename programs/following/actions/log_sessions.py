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
from programs.following.recent import Written
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from programs.prescribing.models import Program
from programs.prescribing.queries import locked, plans_of


@transaction.atomic
def log_sessions(
    *, by: User, program: Program, entries: Iterable[SessionEntry], now: datetime, source: str = LogSource.PORTAL
) -> list[LogOutcome]:
    """One outcome per entry, in order. An entry that cannot be taken is `refused` with its reason and costs no other.

    The fold runs once, after the last.
    """
    program = locked(program)
    plans = plans_of(program)
    shown = shown_of(plans)
    entries = list(entries)
    outcomes = [_stored(by, program, shown, entry, now, source) for entry in entries]
    written: dict[UUID, frozenset[int]] = {}
    for entry, outcome in zip(entries, outcomes, strict=True):
        if outcome.result in {"stored", "edited"}:
            written[entry.log_id] = written.get(entry.log_id, frozenset()) | {entry.edit}
    if written:
        follow_program(program=program, now=now, written=Written(written, plans))
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
