"""A sheet of 1,000,000 home logs with 1,000 faulty rows, brought in on PostgreSQL: reading, checking, writing, folding.

5,000 programs of six exercises over 200 days, one row a program and day, told day by day; the faults are those of
tests/importing/many_rows.py, and every one must be told by its line and code. What is timed is the whole import: finding
out what the file is, both walks through it, every row checked and written with its items and its line in the trail, and all
days, states and suggestions worked out at the end. Yardstick: the same rows (each log, its six items, its line in the trail)
written bare, once more into the same emptied tables with all their indexes and constraints, 10,000 rows an executemany and
transaction; nothing is read, checked or folded there. Times are processor time of this process and of its database process
together (see dashboards.py). Memory is the most that this process held, against a tenth of the rows; there the sheet is also
tried first (a dry run) and brought in a second time. INTERVALE_BENCH_ROWS measures fewer rows.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from tests.benchmarks.common import Measured
from tests.benchmarks.one_log import START

SETTING = "postgres"
ROWS = int(os.environ.get("INTERVALE_BENCH_ROWS", "1000000"))
DAYS, PATTERN, AT_ONCE = 200, 10, 10_000
TABLES = ("following_sessionlog", "following_itemlog", "people_auditevent")
Clock = Callable[[], float]


def measure() -> list[Measured]:
    """The import against bare writing, and its memory against that of a tenth of the rows."""
    from clinic.people.models import Client
    from tests.benchmarks.big_practice import PATTERN as EACH
    from tests.benchmarks.big_practice import grow
    from tests.benchmarks.dashboards import _clock
    from tests.benchmarks.one_log import program_with_logs
    from tests.benchmarks.rebuild import most_held

    programs = ROWS // DAYS
    for number in range(PATTERN):
        program_with_logs(0, f"of{number}")
    grow(have=EACH, want=programs // 10 // PATTERN * EACH)
    clock = _clock()
    bring_all(ROWS // 10, clock, dry_run=True)
    bring_all(ROWS // 10, clock)
    bring_all(ROWS // 10, clock, again=True)
    small = most_held()
    Client.objects.update(external_ref="")
    empty()
    grow(have=programs // 10 // PATTERN * EACH, want=programs // PATTERN * EACH)
    took, held = bring_all(ROWS, clock), most_held()
    return [
        figure(ROWS, took, bare(clock)),
        Measured(f"most memory held while importing {ROWS:,} rows", held, "a tenth of them", small, 1.5, unit="MB"),
    ]


def figure(rows: int, took: float, against: float, engine: str = "PostgreSQL", most: float | None = 5.0) -> Measured:
    """The import against bare writing; `most` is what is promised."""
    return Measured(
        f"importing {rows:,} rows of home logs, {rows // 1000:,} faulty, with days and suggestions, on {engine}", took,
        "the same rows by a bare executemany", against, most,
    )


def bring_all(rows: int, clock: Clock, *, dry_run: bool = False, again: bool = False) -> float:
    """Seconds of the import of so many rows, a thousandth of them faulty; SystemExit when the report is not exact."""
    from clinic.people.importing import reading
    from clinic.people.importing.recognise import recognise
    from clinic.people.importing.refused import RefusedRows
    from clinic.people.importing.report import Report
    from clinic.people.importing.run import import_tables
    from clinic.people.importing.sheet import Context, all_sheets
    from clinic.people.models import Site
    from clinic.people.queries import system_actor
    from tests.importing.many_rows import write

    end = START + timedelta(days=DAYS)
    now = datetime(end.year, end.month, end.day, 12, tzinfo=UTC)
    with TemporaryDirectory() as folder, RefusedRows(Path(folder)) as refused:
        path = Path(folder) / "logs.csv"
        wrong = write(path, references(rows // DAYS), START, rows, rows // 1000)
        told: list[tuple[int, str]] = []
        report = Report(sink=lambda entry: told.append((entry.line, entry.code)), keep=refused.keep)
        site = Site.objects.get(name="Bench Lane")
        begun = clock()
        found = [recognise(table, all_sheets()) for table in reading.tables(path)]
        import_tables(
            found, lambda: Context(by=system_actor(), site=site, now=now), report, dry_run=dry_run,
            progress=lambda *_: None,
        )
        took = clock() - begun
    wanted = {"unchanged" if again else "new": rows - len(wrong), "refused": len(wrong)}
    if dict(report.totals[path.name]) != wanted or told != wrong:
        raise SystemExit(f"the report is not exact: {report.totals[path.name]}, wanted {wanted}")
    return took


def references(programs: int) -> list[str]:
    """Give the clients of the oldest programs a number each, as their sheets have."""
    from django.db.models import CharField, F
    from django.db.models.functions import Cast

    from clinic.people.models import Client
    from programs.prescribing.models import Program

    Client.objects.update(external_ref=Cast(F("pk"), CharField()))
    keys = Program.objects.order_by("pk").values_list("client_id", flat=True)[:programs]
    found = [str(key) for key in keys]
    if len(found) < programs:
        raise SystemExit(f"there are {len(found)} programs, not {programs}")
    return found


def empty() -> None:
    """Take away every log with what follows from it."""
    from django.db import connection

    from tests.benchmarks.rebuild import GONE

    gone = [*TABLES[:2], "following_suggestion", "reminders_message", *(f"following_{name}" for name in GONE)]
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM people_auditevent WHERE verb = 'log_session'")
        cursor.execute(f"TRUNCATE {', '.join(gone)} CASCADE")
        cursor.execute("VACUUM ANALYZE")


def bare(clock: Clock) -> float:
    """Seconds of writing the rows that the import left once more, bare."""
    from django.db import connection, transaction

    took = 0.0
    with connection.cursor() as cursor:
        for table in TABLES:
            cursor.execute(f"CREATE UNLOGGED TABLE bench_{table} AS SELECT * FROM {table} {_only(table)}")
        cursor.execute("DELETE FROM people_auditevent WHERE verb = 'log_session'")
        cursor.execute("TRUNCATE following_itemlog, following_sessionlog CASCADE")
        cursor.execute("VACUUM ANALYZE")
        for table in TABLES:
            cursor.execute(f"SELECT * FROM bench_{table} LIMIT 0")
            columns = [column.name for column in cursor.description]
            statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join(['%s'] * len(columns))})"
            for rows in _copies(table):
                begun = clock()
                with transaction.atomic():
                    connection.connection.cursor().executemany(statement, rows)
                took += clock() - begun
    return took


def _only(table: str) -> str:
    return "WHERE verb = 'log_session'" if table == "people_auditevent" else ""


def _copies(table: str) -> Iterator[list[tuple[Any, ...]]]:
    """The rows of a table that were put aside, 10,000 at a time."""
    from django.db import connection
    from psycopg.types.json import Jsonb

    last = 0
    while True:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT * FROM bench_{table} WHERE id > %s ORDER BY id LIMIT %s", [last, AT_ONCE])
            rows = cursor.fetchall()
        if not rows:
            return
        last = rows[-1][0]
        yield [tuple(Jsonb(value) if isinstance(value, dict) else value for value in row) for row in rows]
