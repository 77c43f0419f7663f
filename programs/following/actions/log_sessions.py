"""Take in what a phone has kept while it was offline: many sessions at once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import IntegrityError, transaction

from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.following.actions.follow_program import follow_program
from programs.following.actions.store_entry import Edits, Judged, Known, LogOutcome, edits_of, judge, store_entry, write
from programs.following.queries import Shown, shown_of
from programs.following.recent import Written
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from programs.prescribing.models import Program
from programs.prescribing.queries import locked
from programs.prescribing.versions import versions_of


@transaction.atomic
def log_sessions(
    *, by: User, program: Program, entries: Iterable[SessionEntry], now: datetime, source: str = LogSource.PORTAL
) -> list[LogOutcome]:
    """One outcome per entry, in order. An entry that cannot be taken is `refused` with its reason and costs no other.

    The fold runs once, after the last.
    """
    program = locked(program, "client")
    plans = versions_of(program)
    entries = list(entries)
    outcomes = _all_stored(by, program, shown_of(plans), entries, now, source)
    written: dict[UUID, frozenset[int]] = {}
    for entry, outcome in zip(entries, outcomes, strict=True):
        if outcome.result in {"stored", "edited"}:
            written[entry.log_id] = written.get(entry.log_id, frozenset()) | {entry.edit}
    if written:
        days = frozenset(day for outcome in outcomes for day in outcome.days)
        follow_program(program=program, now=now, written=Written(written, plans, days))
    return outcomes


def _all_stored(
    by: User, program: Program, shown: dict[UUID, Shown], entries: list[SessionEntry], now: datetime, source: str
) -> list[LogOutcome]:
    """All in a few statements; one by one when a number was taken by another program at this very moment."""
    edits = edits_of(entry.log_id for entry in entries)
    judged = [_judged(program, shown, entry, edits, now, source) for entry in entries]
    wanted = [each for each in judged if isinstance(each, Judged)]
    try:
        with transaction.atomic():
            write(by, program, wanted, now, source)
    except IntegrityError:
        return [_stored(by, program, shown, entry, now, source) for entry in entries]
    return [each.outcome if isinstance(each, Judged) else each for each in judged]


def _judged(
    program: Program, shown: dict[UUID, Shown], entry: SessionEntry, edits: Edits, now: datetime, source: str
) -> Judged | LogOutcome:
    try:
        judged = judge(program, shown, entry, edits, now, source)
    except Refusal as refused:
        return _refused(entry, refused)
    if isinstance(judged, Judged):
        edits[entry.log_id][entry.edit] = Known(program.pk, judged.outcome.older_plan, entry.day)
    return judged


def _stored(
    by: User, program: Program, shown: dict[UUID, Shown], entry: SessionEntry, now: datetime, source: str
) -> LogOutcome:
    try:
        with transaction.atomic():
            return store_entry(by=by, program=program, shown=shown, entry=entry, now=now, source=source)
    except Refusal as refused:
        return _refused(entry, refused)


def _refused(entry: SessionEntry, refused: Refusal) -> LogOutcome:
    return LogOutcome(
        str(entry.log_id), "refused", code=refused.code, sentence=refused.sentence, fields=refused.fields
    )
