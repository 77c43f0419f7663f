"""Kinds of sheet. Each app registers its own in its `sheets.py`; the engine knows none of them."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal

from clinic.people.importing.cells import Cell
from clinic.people.importing.dates import DayOrder

if TYPE_CHECKING:
    from clinic.people.models import Site, User

Result = Literal["new", "unchanged", "updated"]


@dataclass(frozen=True, slots=True)
class Reading:
    """What a cell's reader may need to know: the column's day order and the site's region."""

    order: DayOrder | None
    region_code: str


@dataclass(frozen=True)
class Field:
    """A column: its code, its label, the other headings it goes by, how a filled cell of it is read.

    `read` raises Fault. `needed` refuses a row whose cell is empty. `has_days` asks for the day-order evidence.
    """

    code: str
    label: str
    names: tuple[str, ...]
    read: Callable[[Cell, Reading], Any]
    needed: bool = False
    has_days: bool = False


@dataclass(frozen=True)
class Row:
    """A row whose cells have been read: filled fields by code."""

    file: str
    line: int
    values: Mapping[str, Any]

    def __getitem__(self, code: str) -> Any:
        return self.values[code]

    def get(self, code: str, default: Any = "") -> Any:
        """The value of a field, or `default` when its cell is empty or its column is not there."""
        return self.values.get(code, default)


@dataclass(frozen=True, slots=True)
class Saved:
    """What became of a row: new, unchanged or updated, and (code, sentence) remarks on what was left as it is."""

    result: Result
    remarks: tuple[tuple[str, str], ...] = ()


class OneByOne(Exception):
    """These rows cannot be saved in one go; one after another they can."""


@dataclass
class Context:
    """Who imports what where; what a sheet notes for one table (`memo`) or for the whole run (`refused`)."""

    by: User
    site: Site
    now: datetime
    dates: DayOrder | None = None
    memo: dict[str, Any] = field(default_factory=dict)
    refused: dict[Hashable, str] = field(default_factory=dict)


@dataclass(frozen=True)
class Sheet:
    """One kind of sheet.

    `requires` lists groups of field codes of which one each must have a column. `after` names the sheets to be
    imported before. `key(row)` is what makes two rows of one file the same thing (None: cannot be told).
    `save(row, context)` runs inside a transaction of its own and raises Fault, RowFaults or Refusal.
    `save_many(rows, context)` is the same for many rows in one transaction, far quicker: one answer a row, in their order,
    an exception for a row that is refused. When it raises (OneByOne or anything else), nothing of it stays and each row is
    saved by itself.
    `finish(context)` runs after the last row of a table: what many rows ask for is done once. What it needs, saving leaves in
    the memo; should it never run, what saving leaves in the database must lead somebody else to do it.
    `mends` maps a Refusal's code to how to mend it. `marks(row)` are what other sheets may look for by name, kept
    when the row is refused.
    """

    code: str
    label: str
    fields: tuple[Field, ...]
    requires: tuple[tuple[str, ...], ...]
    key: Callable[[Row], Hashable | None]
    save: Callable[[Row, Context], Saved]
    save_many: Callable[[Sequence[Row], Context], list[Saved | Exception]] | None = None
    finish: Callable[[Context], None] | None = None
    after: tuple[str, ...] = ()
    mends: Mapping[str, str] = field(default_factory=dict)
    marks: Callable[[Row], tuple[Hashable, ...]] = lambda row: ()


_sheets: dict[str, Sheet] = {}


def register(sheet: Sheet) -> None:
    """Make a kind of sheet known. ValueError when its code is taken by another."""
    if sheet.code in _sheets and _sheets[sheet.code] is not sheet:
        raise ValueError(f"sheet {sheet.code} is registered twice")
    _sheets[sheet.code] = sheet


def all_sheets() -> list[Sheet]:
    """Every registered kind, each after those it depends on."""
    placed: list[Sheet] = []
    waiting = [_sheets[code] for code in sorted(_sheets)]
    while waiting:
        ready = [sheet for sheet in waiting if not set(sheet.after) & {other.code for other in waiting}]
        if not ready:
            raise ValueError(f"sheets wait for one another: {', '.join(sheet.code for sheet in waiting)}")
        placed += ready
        waiting = [sheet for sheet in waiting if sheet not in ready]
    return placed
