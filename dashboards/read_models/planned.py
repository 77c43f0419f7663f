"""Queries that PostgreSQL plans once a connection: for a page that is opened all day, planning costs as much as reading."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date, datetime
from itertools import count
from typing import Any
from weakref import WeakKeyDictionary

from django.db import connection

from clinic.people.prepared import DAY, KEYS, MOMENT, READER, Prepared, Worded

HOLES = frozenset([READER, DAY, MOMENT, *KEYS])
_HELD: WeakKeyDictionary[Any, dict[str, str]] = WeakKeyDictionary()   # of the driver's connection: statements by their SQL
_NAMES = count(1)


class Planned(Prepared):
    """A prepared query with the common holes only; a prepared statement of each connection to PostgreSQL."""

    def _ask(self, cursor: Any, worded: Worded, filled: Mapping[Any, Any]) -> None:
        if connection.vendor != "postgresql":
            super()._ask(cursor, worded, filled)
            return
        holes = [value for value in dict.fromkeys(worded.values) if _is_hole(value)]
        values = [filled.get(hole, hole) for hole in holes]
        given = f" ({', '.join(['%s'] * len(holes))})" if holes else ""
        held = _HELD.setdefault(connection.connection, {})
        if name := held.get(worded.sql):
            cursor.execute(f"EXECUTE {name}{given}", values)
            return
        name = f"planned_{next(_NAMES)}"
        text, fixed = _with_places(worded, holes)
        typed = f" ({', '.join(map(_type_of, holes))})" if holes else ""
        cursor.execute(f"PREPARE {name}{typed} AS {text}; EXECUTE {name}{given}", [*fixed, *values])
        cursor.nextset()
        held[worded.sql] = name


def _with_places(worded: Worded, holes: list[Any]) -> tuple[str, list[Any]]:
    """The SQL with $1, $2, … where the holes are, and the other values."""
    places = {hole: f"${place}" for place, hole in enumerate(holes, start=1)}
    rest, fixed = iter(worded.values), list[Any]()

    def put(found: re.Match[str]) -> str:
        if found[0] == "%%":
            return found[0]
        value = next(rest)
        if _is_hole(value):
            return places[value]
        fixed.append(value)
        return "%s"

    return re.sub("%%|%s", put, worded.sql), fixed


def _is_hole(value: Any) -> bool:
    return isinstance(value, int | date) and value in HOLES


def _type_of(hole: int | date) -> str:
    if isinstance(hole, datetime):
        return "timestamptz"
    return "date" if isinstance(hole, date) else "bigint"
