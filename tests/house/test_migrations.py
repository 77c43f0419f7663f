"""Models and migrations agree, and the walls the migrations build are standing."""

from __future__ import annotations

import pytest
from django.core.management import call_command
from django.db import connection

APPEND_ONLY = {
    "people_consent", "people_auditevent", "visits_visit", "visits_result", "prescribing_revision", "prescribing_phase",
    "prescribing_item", "following_sessionlog", "following_itemlog", "following_morninganswer", "following_ruleset",
    "following_note", "following_noteread", "prescribing_screening", "prescribing_screeningoverride", "trust_seal",
}


@pytest.mark.django_db
def test_no_migration_is_missing():
    call_command("makemigrations", check=True, dry_run=True, verbosity=0)


@pytest.mark.django_db
def test_every_append_only_table_has_its_trigger():
    query = (
        "SELECT tgrelid::regclass::text FROM pg_trigger WHERE tgname LIKE '%_append_only'"
        if connection.vendor == "postgresql"
        else "SELECT tbl_name FROM sqlite_master WHERE type = 'trigger' AND name LIKE '%_append_only'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        assert {row[0] for row in cursor.fetchall()} == APPEND_ONLY


@pytest.mark.django_db
def test_sqlite_runs_in_wal_with_immediate_transactions():
    if connection.vendor == "sqlite":
        with connection.cursor() as cursor:
            cursor.execute("PRAGMA journal_mode")
            assert cursor.fetchone()[0] == "wal"
        assert connection.transaction_mode == "IMMEDIATE"
    else:
        assert connection.settings_dict["CONN_HEALTH_CHECKS"] is True
