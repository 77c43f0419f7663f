"""Which kind of sheet a table is, by its headings; a title line above them does no harm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice

from clinic.people.importing.columns import Columns, match
from clinic.people.importing.faults import Unreadable
from clinic.people.importing.sheet import Sheet
from clinic.people.importing.table import Table

LINES_ABOVE = 10   # headings are looked for in the first that many filled rows


@dataclass(frozen=True)
class Recognised:
    """A table with the sheet it is and what its headings meant."""

    table: Table
    sheet: Sheet
    columns: Columns


def recognise(table: Table, sheets: Sequence[Sheet]) -> Recognised:
    """The best match: no needed column missing, most columns understood, fewest left over.

    Unreadable `not_recognised` names the nearest kind of sheet and what it lacks.
    """
    filled = (row for row in table.rows() if not row.blank and row.fault is None)
    found = [
        Recognised(table, sheet, match(row.line, row.cells, sheet.fields, sheet.requires))
        for row in islice(filled, LINES_ABOVE)
        for sheet in sheets
    ]
    best = max(found, key=_score, default=None)
    if best is None or len(best.columns.index) < 2:
        raise Unreadable("not_recognised", f"{table.name}: no line says what the columns are.")
    if best.columns.missing:
        raise Unreadable(
            "missing_columns",
            f"{table.name} looks like {best.sheet.label.lower()}, "
            f"but has no column for {'; '.join(best.columns.missing)}.",
        )
    return best


def _score(found: Recognised) -> tuple[bool, int, int]:
    columns = found.columns
    return not columns.missing, len(columns.index), -len(columns.ignored) - len(columns.doubled)
