"""The same log from several connections at once, on both engines: one row, and nobody is told that it was lost."""

from concurrent.futures import ThreadPoolExecutor
from uuid import UUID

import pytest
from django.db import connections

from programs.following.actions.log_session import log_session
from programs.following.models import DayRecord, SessionLog
from programs.following.rules.entry import SessionEntry
from programs.prescribing.models import Program, Revision
from tests.following.conftest import START, done

SENT = 6


@pytest.mark.django_db(transaction=True)
def test_one_log_sent_six_times_at_once(cast, program, now):
    shown, user = Revision.objects.get(program=program).public_id, cast.ada.user
    entry = SessionEntry(UUID(int=4711), 0, shown, START, pain_during=2, items=done())

    def send(_: int) -> str:
        try:
            return log_session(by=user, program=Program.objects.get(pk=program.pk), entry=entry, now=now).result
        finally:
            connections.close_all()

    with ThreadPoolExecutor(SENT) as pool:
        results = list(pool.map(send, range(SENT)))
    assert sorted(results) == ["already"] * (SENT - 1) + ["stored"]
    assert SessionLog.objects.count() == 1
    assert DayRecord.objects.get(day=START).sessions_done == 1
