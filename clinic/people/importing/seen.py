"""Which rows of a file were taken already: kept on disk, so that a million of them cost no memory."""

from __future__ import annotations

import sqlite3
from collections.abc import Hashable

_WITHIN = 2**63


class Seen:
    """Keys of rows with the line they first stood on. Known by a 64-bit hash: two different keys of a million rows meet
    once in about forty million files."""

    def __init__(self) -> None:
        # the empty name is a file without one: SQLite removes it when it is closed, whatever ends the process
        self._file = sqlite3.connect("", isolation_level=None)
        self._file.execute("PRAGMA journal_mode = OFF")
        self._file.execute("PRAGMA cache_size = -4000")
        self._file.execute("CREATE TABLE seen (key INTEGER PRIMARY KEY, line INTEGER NOT NULL)")
        self._file.execute("BEGIN")

    def line_of(self, key: Hashable) -> int | None:
        """The line on which this key was taken."""
        found = self._file.execute("SELECT line FROM seen WHERE key = ?", (_place(key),)).fetchone()
        return found[0] if found else None

    def take(self, key: Hashable, line: int) -> None:
        """Remember that the row of this line was taken."""
        self._file.execute("INSERT OR IGNORE INTO seen VALUES (?, ?)", (_place(key), line))

    def close(self) -> None:
        """Let the file go."""
        self._file.close()


def _place(key: Hashable) -> int:
    return (hash(key) + _WITHIN) % (2 * _WITHIN) - _WITHIN
