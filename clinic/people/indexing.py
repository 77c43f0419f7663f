"""Indexes for tables in use: PostgreSQL builds and drops them beside the work that goes on, SQLite in its one way."""

from __future__ import annotations

from typing import Any

from django.contrib.postgres import operations as postgres
from django.db.migrations import operations as plain


class AddIndexConcurrently(postgres.AddIndexConcurrently):
    """In a migration with `atomic = False`."""

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        way: Any = super() if schema_editor.connection.vendor == "postgresql" else _Plain(plain.AddIndex, self)
        way.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        way: Any = super() if schema_editor.connection.vendor == "postgresql" else _Plain(plain.AddIndex, self)
        way.database_backwards(app_label, schema_editor, from_state, to_state)


class RemoveIndexConcurrently(postgres.RemoveIndexConcurrently):
    """In a migration with `atomic = False`."""

    def database_forwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        way: Any = super() if schema_editor.connection.vendor == "postgresql" else _Plain(plain.RemoveIndex, self)
        way.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(self, app_label: str, schema_editor: Any, from_state: Any, to_state: Any) -> None:
        way: Any = super() if schema_editor.connection.vendor == "postgresql" else _Plain(plain.RemoveIndex, self)
        way.database_backwards(app_label, schema_editor, from_state, to_state)


class _Plain:
    """An operation worked by the methods of the class it was made from."""

    def __init__(self, kind: Any, operation: Any) -> None:
        self.kind, self.operation = kind, operation

    def database_forwards(self, *arguments: Any) -> None:
        self.kind.database_forwards(self.operation, *arguments)

    def database_backwards(self, *arguments: Any) -> None:
        self.kind.database_backwards(self.operation, *arguments)
