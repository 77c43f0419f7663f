"""The import of importing.py on SQLite: 100,000 rows of 500 programs.

Times are processor time of this process, in which SQLite works. Nothing is promised: an insert there is a call of a function,
ten times as quick as one over a connection, while reading, checking and folding a row cost what they cost elsewhere.
"""

from __future__ import annotations

import os
from time import process_time

from tests.benchmarks.common import Measured
from tests.benchmarks.importing import DAYS, TABLES, _only, bring_all, figure

SETTING = "plain"
ROWS = int(os.environ.get("INTERVALE_BENCH_ROWS", "1000000")) // 10


def measure() -> list[Measured]:
    """The import against bare writing."""
    from tests.benchmarks.one_log import program_with_logs

    for number in range(ROWS // DAYS):
        program_with_logs(0, f"of{number}")
    return [figure(ROWS, bring_all(ROWS, process_time), bare(), "SQLite", most=None)]


def bare() -> float:
    """Seconds of writing the rows that the import left once more, bare."""
    from django.db import connection, transaction

    took = 0.0
    with connection.cursor() as cursor:
        held = {}
        for table in TABLES:
            cursor.execute(f"SELECT * FROM {table} {_only(table)}")
            held[table] = [column[0] for column in cursor.description], cursor.fetchall()
        cursor.execute("PRAGMA foreign_keys = OFF")
        for table in reversed(TABLES):
            cursor.execute(f"DELETE FROM {table} {_only(table)}")
        cursor.execute("PRAGMA foreign_keys = ON")
        for table, (columns, rows) in held.items():
            statement = f"INSERT INTO {table} ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})"
            begun = process_time()
            with transaction.atomic():
                connection.connection.cursor().executemany(statement, rows)
            took += process_time() - begun
    return took
