"""The second wall on PostgreSQL, and what a constraint asks of a time. A leaf: migrations refer to it."""

from __future__ import annotations

from typing import Any

from django.contrib.postgres.constraints import ExclusionConstraint
from django.contrib.postgres.fields import DateTimeRangeField
from django.db.models import Func, IntegerField


class TsTzRange(Func):
    function = "TSTZRANGE"
    output_field = DateTimeRangeField()


class OffGrid(Func):
    """The seconds since the last full five minutes; 0 on the grid."""

    template = "MOD(EXTRACT(EPOCH FROM %(expressions)s), 300)"
    output_field = IntegerField()

    def as_sqlite(self, compiler: Any, connection: Any, **context: Any) -> Any:
        """SQLite has no EXTRACT."""
        template = "(CAST(strftime('%%%%s', %(expressions)s) AS INTEGER) %%%% 300)"
        return self.as_sql(compiler, connection, template=template, **context)


class PostgresExclusion(ExclusionConstraint):
    """An exclusion constraint that stays silent on other databases, where the claim rows are the only wall."""

    def validate(self, model: Any, instance: Any, exclude: Any = None, using: str = "default") -> None:
        return None   # the database decides, in one round trip, when the claims are written

    def create_sql(self, model: Any, schema_editor: Any) -> Any:
        return super().create_sql(model, schema_editor) if schema_editor.connection.vendor == "postgresql" else None

    def remove_sql(self, model: Any, schema_editor: Any) -> Any:
        return super().remove_sql(model, schema_editor) if schema_editor.connection.vendor == "postgresql" else None

    def constraint_sql(self, model: Any, schema_editor: Any) -> Any:
        if schema_editor.connection.vendor != "postgresql":
            return None
        return super().constraint_sql(model, schema_editor)
