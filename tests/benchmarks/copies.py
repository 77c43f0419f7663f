"""Many rows out of one, made by the database itself: nothing of them passes through this process."""

from __future__ import annotations

from typing import Any


def copy_rows(row: Any, count: int, first: int = 1, **changed: str) -> int:
    """Insert `count` copies of a saved row, numbered k from `first`; the lowest new key.

    `changed` gives SQL for columns that differ, in which k is the number. Keys and UUID columns differ by themselves.
    """
    from django.db import connection

    model = type(row)
    table, key = model._meta.db_table, model._meta.pk.column
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT coalesce(max({key}), 0) FROM {table}")
        begin = cursor.fetchone()[0] + 1
        values = {field.column: _value(field, begin - first) for field in model._meta.concrete_fields} | changed
        columns = ", ".join(f'"{name}"' for name in values)
        cursor.execute(
            f"INSERT INTO {table} ({columns}) SELECT {', '.join(values.values())} "
            f"FROM {table}, generate_series(%s, %s) AS k WHERE {key} = %s",
            [first, first + count - 1, row.pk],
        )
        cursor.execute(f"SELECT setval(pg_get_serial_sequence('{table}', '{key}'), (SELECT max({key}) FROM {table}))")
    return begin


def _value(field: Any, shift: int) -> str:
    if field.primary_key:
        return f"k + {shift}"
    if field.get_internal_type() == "UUIDField":
        return f"md5('{field.column}' || \"{field.column}\"::text || k)::uuid"
    return f'"{field.column}"'
