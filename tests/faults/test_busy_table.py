"""A migration meets a table in use on PostgreSQL. SQLite locks the file and lets readers be: nothing to ask there."""

from __future__ import annotations

import threading
import time

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from clinic.project.management.commands import migrate

TABLE = "reminders_deliveryreport"


@pytest.mark.django_db(transaction=True)
def test_a_table_in_use_is_not_waited_for_and_the_migration_is_whole_afterwards(monkeypatch, capsys):
    """Back and forth over an additive migration of the outbox, while a long report reads the table."""
    monkeypatch.setattr(migrate, "PAUSE", 0.3)
    reading, enough = threading.Event(), threading.Event()

    def report():
        with connection.cursor() as cursor:
            cursor.execute("BEGIN")
            cursor.execute(f"SELECT count(*) FROM {TABLE}")
            reading.set()
            enough.wait(60)
            cursor.execute("ROLLBACK")
        connection.close()

    reader = threading.Thread(target=report)
    reader.start()
    reading.wait(30)
    try:
        started = time.monotonic()
        with pytest.raises(CommandError, match="A table stayed in use"):
            call_command("migrate", "reminders", "0003", lock_seconds=1, tries=2, verbosity=0)
        assert 2 < time.monotonic() - started < 30
        assert TABLE in connection.introspection.table_names()   # undone whole
        assert capsys.readouterr().err.count("A table was in use") == 2
        threading.Timer(1.5, enough.set).start()   # the report ends while the command tries
        call_command("migrate", "reminders", "0003", lock_seconds=1, tries=20, verbosity=0)
        assert TABLE not in connection.introspection.table_names()
    finally:
        enough.set()
        reader.join()
        call_command("migrate", "reminders", verbosity=0)
    assert TABLE in connection.introspection.table_names()
