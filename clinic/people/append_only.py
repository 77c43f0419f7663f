"""The second wall around rows that are written once: a trigger that refuses an UPDATE, whoever sends it."""

from __future__ import annotations

from typing import Any

from django.db.migrations import RunPython

FUNCTION = """
CREATE OR REPLACE FUNCTION intervale_refuse_update() RETURNS trigger AS $$
BEGIN
    RAISE EXCEPTION '% rows are append-only', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END;
$$ LANGUAGE plpgsql;
"""


def refuse_updates(*tables: str) -> RunPython:
    """The migration step that puts the trigger on `tables` (names in the database), on SQLite and on PostgreSQL; it goes back
    by dropping them."""

    def forbid(apps: Any, schema_editor: Any) -> None:
        postgres = schema_editor.connection.vendor == "postgresql"
        if postgres:
            schema_editor.execute(FUNCTION, params=None)
        for table in tables:
            body = (
                "FOR EACH ROW EXECUTE FUNCTION intervale_refuse_update()" if postgres
                else f"BEGIN SELECT RAISE(ABORT, '{table} rows are append-only'); END"
            )
            schema_editor.execute(f"CREATE TRIGGER {table}_append_only BEFORE UPDATE ON {table} {body}")

    def allow(apps: Any, schema_editor: Any) -> None:
        for table in tables:
            on = f" ON {table}" if schema_editor.connection.vendor == "postgresql" else ""
            schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_append_only{on}")

    return RunPython(forbid, allow)
