"""Take in one session from a sheet. Many come at once, so the program is brought up to date after the last of them."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people.models import User
from programs.following.actions.store_entry import LogOutcome, store_entry
from programs.following.queries import shown_of
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from programs.prescribing.models import Program
from programs.prescribing.queries import locked
from programs.prescribing.versions import versions_of


@transaction.atomic
def log_imported(*, by: User, program: Program, entry: SessionEntry, now: datetime) -> LogOutcome:
    """Store it, and nothing else: whoever calls this calls `follow_programs` in the same transaction. Refusals: see
    `store_entry`.
    """
    program = locked(program, "client")
    shown = shown_of(versions_of(program))
    return store_entry(by=by, program=program, shown=shown, entry=entry, now=now, source=LogSource.IMPORT)
