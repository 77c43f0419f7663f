"""Logging for a client without a phone of their own."""

from datetime import timedelta
from uuid import uuid4

from programs.following.actions.log_session import log_session
from programs.following.rules.entry import SessionEntry
from programs.following.vocab import LogSource
from tests.conftest import NOW
from tests.following.conftest import START, done


def log_days(program, days: int, **answers) -> None:
    """One full session on each of the first `days` days, written down by the clinician."""
    revision = program.revisions.latest("number")
    for day in range(days):
        entry = SessionEntry(
            uuid4(), 0, revision.public_id, START + timedelta(days=day), items=done(), **answers
        )
        log_session(
            by=program.clinician.user, program=program, entry=entry, now=NOW + timedelta(days=day), source=LogSource.CLINICIAN
        )
