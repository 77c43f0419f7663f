"""A big practice on PostgreSQL: the demo's people told over twelve months, then copied until there are enough.

The pattern is a hundred clients of three clinicians, followed as the application follows them, so that every record behind
a chart is one that the actions write. A copy is a further group of three clinicians with clients, visits, programs and logs
of its own: one INSERT … SELECT a table, keys moved by a stride, UUIDs made anew from the old ones. The same seed and moment
give the same practice. Of the outbox only the reminders of visits are copied, and the trail of who did what is not: no
dashboard reads the rest.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

PATTERN = 100        # programs of the pattern
MONTHS = 12
SEED = 20260302
NOW = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
COPIED_ROLES = ("clinician", "client")


def pattern(*, seed: int = SEED, now: datetime = NOW, months: int = MONTHS) -> None:
    """Tell the pattern into an empty migrated database."""
    from clinic.project.demo.seed import seed_demo

    seed_demo(clients=PATTERN, months=months, seed=seed, now=now)


def grow(*, have: int, want: int) -> None:
    """From `have` to `want` programs, both multiples of PATTERN; the statistics of the planner are brought up to date."""
    from django.db import connection

    tables = _tables()
    with connection.cursor() as cursor:
        stride = _stride(cursor)
        for model in tables:
            cursor.execute(_copy(model, tables, stride), [have // PATTERN, want // PATTERN - 1])
        for model in tables:
            table, key = model._meta.db_table, model._meta.pk.column
            cursor.execute(f"SELECT setval(pg_get_serial_sequence('{table}', '{key}'), (SELECT max({key}) FROM {table}))")
        cursor.execute("VACUUM ANALYZE")


def _tables() -> list[Any]:
    """What is copied, whatever is pointed at before what points at it."""
    from clinic.booking import models as booking
    from clinic.people import models as people
    from clinic.reminders import models as reminders
    from clinic.visits import models as visits
    from programs.following import models as following
    from programs.prescribing import models as prescribing

    return [
        people.User, people.Staff, people.Staff.sites.through, booking.Room, booking.WorkingHours, people.Client,
        people.Consent, people.Condition, people.Episode, booking.GroupVisit, booking.GroupPlace, booking.Appointment,
        booking.Claim, visits.Visit, visits.Result,
        visits.Reassessment, prescribing.Program, prescribing.Revision, prescribing.Phase, prescribing.Item,
        prescribing.Pause, following.SessionLog, following.ItemLog, following.MorningAnswer,
        following.DayRecord, following.PhaseRun, following.ItemRun, following.RibbonRow, following.ProgramState,
        following.Suggestion, following.Alert, reminders.Message,
    ]


def _stride(cursor: Any) -> int:
    """A number above every key of the pattern; kept in a comment of the database's own, so that it stays the same."""
    cursor.execute("SELECT obj_description('people_site'::regclass)")
    held = cursor.fetchone()[0]
    if held:
        return int(held)
    highest = 0
    for model in _tables():
        cursor.execute(f"SELECT coalesce(max({model._meta.pk.column}), 0) FROM {model._meta.db_table}")
        highest = max(highest, cursor.fetchone()[0])
    cursor.execute(f"COMMENT ON TABLE people_site IS '{highest + 1}'")
    return highest + 1


def _copy(model: Any, tables: list[Any], stride: int) -> str:
    """The statement that copies the pattern's rows of one table for k from the first to the second parameter."""
    fields = model._meta.concrete_fields
    chosen = {
        "people_user": f"role IN {COPIED_ROLES}", "people_staff": f"user_id IN ({_users()})",
        "reminders_message": "kind = 'visit_reminder'",
    }
    values = ", ".join(_value(model, field, tables, stride) for field in fields)
    columns = ", ".join(f'"{field.column}"' for field in fields)
    table = model._meta.db_table
    where = f" AND {chosen[table]}" if table in chosen else ""
    if table == "people_staff_sites":
        where = f" AND staff_id IN ({_staff()})"
    return (
        f"INSERT INTO {table} ({columns}) SELECT {values} FROM {table}, generate_series(%s, %s) AS k "
        f"WHERE {model._meta.pk.column} < {stride}{where}"
    )


def _users() -> str:
    return f"SELECT id FROM people_user WHERE role IN {COPIED_ROLES}"


def _staff() -> str:
    return f"SELECT id FROM people_staff WHERE user_id IN ({_users()})"


def _value(model: Any, field: Any, tables: list[Any], stride: int) -> str:
    """A column of a copy. Whoever is not copied (desk, lead, system) stays who they are."""
    kind, column, moved = field.get_internal_type(), f'"{field.column}"', f'"{field.column}" + k * {stride}'
    if field.primary_key or (model.__name__, field.name) == ("Claim", "resource_id"):
        return moved
    if field.is_relation:
        target = field.related_model.__name__
        if target in {"User", "Staff"}:
            return f"CASE WHEN {column} IN ({_users() if target == 'User' else _staff()}) THEN {moved} ELSE {column} END"
        return moved if field.related_model in tables and target != "RuleSet" else column
    if kind == "UUIDField":
        return f"md5({column}::text || ':' || k)::uuid"
    if (model.__name__, field.name) == ("Message", "about"):
        return f"'appointment:' || md5(split_part({column}, ':', 2) || ':' || k)::uuid"
    if (model.__name__, field.name) in {("User", "email"), ("Room", "name"), ("Message", "dedup_key")}:
        return f"k || '.' || {column}"
    return column
