"""What stands in a database besides rows: constraints, indexes and triggers, by name."""

from __future__ import annotations

import re
from typing import Any

POSTGRES = """
    SELECT 'constraint', conrelid::regclass::text, conname::text, pg_get_constraintdef(oid) FROM pg_constraint
     WHERE connamespace = 'public'::regnamespace
    UNION ALL SELECT 'index', tablename::text, indexname::text, indexdef FROM pg_indexes WHERE schemaname = 'public'
    UNION ALL SELECT 'trigger', tgrelid::regclass::text, tgname::text, pg_get_triggerdef(oid) FROM pg_trigger
     WHERE NOT tgisinternal
"""
SQLITE = "SELECT type, tbl_name, name, sql FROM sqlite_master WHERE sql IS NOT NULL"


def walls(line: Any) -> set[tuple[str, str, str, str]]:
    """(kind, table, name, definition) of each. SQLite keeps constraints inside the text of a table: they come by name."""
    with line.cursor() as cursor:
        cursor.execute(SQLITE if line.vendor == "sqlite" else POSTGRES)
        rows = cursor.fetchall()
    if line.vendor != "sqlite":
        return set(rows)
    found = {tuple(row) for row in rows if row[0] != "table"}
    for _, table, _, text in (row for row in rows if row[0] == "table"):
        found |= {("constraint", table, name, "") for name in re.findall(r'CONSTRAINT "(\w+)"', text)}
        found |= {("references", table, name, "") for name in re.findall(r'REFERENCES "(\w+)"', text)}
    return found
