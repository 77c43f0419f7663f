"""Take in one session as a client, a clinician on their behalf, or an import reports it."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people.models import User
from programs.following.actions.follow_program import follow_program
from programs.following.actions.store_entry import LogOutcome, store_entry
from programs.following.queries import shown_of
from programs.following.recent import Written
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from programs.prescribing.models import Program
from programs.prescribing.queries import locked
from programs.prescribing.versions import versions_of


@transaction.atomic
def log_session(
    *, by: User, program: Program, entry: SessionEntry, now: datetime, source: str = LogSource.PORTAL
) -> LogOutcome:
    """Store it once, however often it is sent, and bring days, state and suggestions up to date in the same transaction.

    An edit is the same log id with a higher number; order of arrival does not matter. A version older than the one in force
    that day is kept and marked. Refusals: see `store_entry`.
    """
    program = locked(program, "client")
    plans = versions_of(program)
    outcome = store_entry(by=by, program=program, shown=shown_of(plans), entry=entry, now=now, source=source)
    if outcome.result != "already":
        written = Written({entry.log_id: frozenset({entry.edit})}, plans, outcome.days)
        follow_program(program=program, now=now, written=written)
    return outcome
