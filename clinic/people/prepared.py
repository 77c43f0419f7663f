"""Queries that are put into SQL once: what is asked all day pays for reading, not for wording the same query again.

A query is written with the ORM and the doors of the other apps, with holes where the reader, the day, the moment and the keys
of a page's rows go. Putting a large one into SQL takes milliseconds of processor time, a small one as much as reading it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from functools import lru_cache
from typing import Any
from uuid import UUID

from django.db import connection
from django.db.models import QuerySet, UUIDField

READER = -1_000_000_000                                   # no row has such keys, and nothing happened on such days
KEYS = tuple(range(-2_000_000_025, -2_000_000_000))       # as many as a page has rows
DAY = date(1900, 1, 2)
MOMENT = datetime(1900, 1, 2, 3, 4, 5, tzinfo=UTC)
NOTHING: Mapping[Any, Any] = {}


@dataclass(frozen=True)
class Worded:
    """A query in SQL, with its values, and what makes of its columns what they are in Python."""

    sql: str
    values: tuple[Any, ...]
    converters: tuple[tuple[int, list[Any], Any], ...]


@lru_cache(maxsize=4096)
def _known(text: str) -> UUID:
    return UUID(text)


def _key(value: str | None, *_: Any) -> UUID | None:
    """An id that the engine keeps as text: the same ones come again and again."""
    return None if value is None else _known(value)


class Prepared:
    """`build(variant)` gives a `values_list` query with READER, DAY, MOMENT, KEYS or holes of its own in it, numbers or
    instants that are nobody's; one wording a variant is kept."""

    def __init__(self, build: Callable[[str], QuerySet[Any, Any]]) -> None:
        self._build = build
        self._worded: dict[str, Worded] = {}

    def rows(
        self, variant: str = "", *, reader: int = READER, day: date = DAY, moment: datetime = MOMENT,
        keys: Sequence[int] = (), also: Mapping[Any, Any] = NOTHING,
    ) -> list[tuple[Any, ...]]:
        """What the query finds, with `also` what belongs into holes of its own. More keys than fit into one query take
        several, none take none."""
        worded = self._worded.get(variant) or self._put(variant)
        if not any(value in KEYS for value in worded.values if isinstance(value, int)):
            return list(self._read(worded, reader, day, moment, KEYS, also))
        return [
            row
            for first in range(0, len(keys), len(KEYS))
            for row in self._read(worded, reader, day, moment, keys[first:first + len(KEYS)], also)
        ]

    def _put(self, variant: str) -> Worded:
        compiler = self._build(variant).query.get_compiler("default")
        sql, values = compiler.as_sql()
        columns = [column for column, *_ in compiler.select[:compiler.col_count]]
        converters = [
            (place, [_key] if isinstance(column.output_field, UUIDField) else own, column)
            for place, (own, column) in compiler.get_converters(columns).items()
        ]
        worded = Worded(sql, tuple(values), tuple(converters))
        self._worded[variant] = worded
        return worded

    def _read(
        self, worded: Worded, reader: int, day: date, moment: datetime, keys: Sequence[int], also: Mapping[Any, Any]
    ) -> Iterator[tuple[Any, ...]]:
        filled: dict[Any, Any] = dict(zip(KEYS, keys, strict=False))   # what is left over stays a key that no row has
        filled[READER] = reader
        ops = connection.ops
        filled[ops.adapt_datefield_value(DAY)] = ops.adapt_datefield_value(day)
        filled[ops.adapt_datetimefield_value(MOMENT)] = ops.adapt_datetimefield_value(moment)
        for hole, value in also.items():
            adapt = ops.adapt_datetimefield_value if isinstance(hole, datetime) else (lambda plain: plain)
            filled[adapt(hole)] = adapt(value)
        with connection.cursor() as cursor:
            self._ask(cursor, worded, filled)
            found = cursor.fetchall()
        for row in found:
            cells = list(row)
            for place, converters, column in worded.converters:
                for convert in converters:
                    cells[place] = convert(cells[place], column, connection)
            yield tuple(cells)

    def _ask(self, cursor: Any, worded: Worded, filled: Mapping[Any, Any]) -> None:
        cursor.execute(worded.sql, [filled.get(value, value) for value in worded.values])
