"""Notes and their reading are written once: the database refuses an UPDATE, whoever sends it."""

from django.db import migrations

TABLES = ["following_note", "following_noteread"]

POSTGRES = """
CREATE OR REPLACE FUNCTION intervale_refuse_update() RETURNS trigger AS $$
BEGIN
    RAISE EXCEPTION '% rows are append-only', TG_TABLE_NAME USING ERRCODE = 'integrity_constraint_violation';
END;
$$ LANGUAGE plpgsql;
"""


def forbid(apps, schema_editor):
    if schema_editor.connection.vendor == "postgresql":
        schema_editor.execute(POSTGRES, params=None)
    for table in TABLES:
        if schema_editor.connection.vendor == "postgresql":
            schema_editor.execute(
                f"CREATE TRIGGER {table}_append_only BEFORE UPDATE ON {table} "
                "FOR EACH ROW EXECUTE FUNCTION intervale_refuse_update()"
            )
        else:
            schema_editor.execute(
                f"CREATE TRIGGER {table}_append_only BEFORE UPDATE ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{table} rows are append-only'); END"
            )


def allow(apps, schema_editor):
    for table in TABLES:
        on = f" ON {table}" if schema_editor.connection.vendor == "postgresql" else ""
        schema_editor.execute(f"DROP TRIGGER IF EXISTS {table}_append_only{on}")


class Migration(migrations.Migration):
    dependencies = [("following", "0004_notes")]
    operations = [migrations.RunPython(forbid, allow)]
