"""A table in a file, whatever the file's format: rows that can be walked more than once, never all held at once."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from clinic.people.importing.cells import Cell
from clinic.people.importing.faults import Fault


@dataclass(frozen=True, slots=True)
class SourceRow:
    """One row with the line it stands on; `fault` when it could not be taken apart."""

    line: int
    cells: tuple[Cell, ...]
    fault: Fault | None = None

    @property
    def blank(self) -> bool:
        """Nothing in it."""
        return self.fault is None and not any(
            cell.strip() if isinstance(cell, str) else cell is not None for cell in self.cells
        )


@dataclass(frozen=True)
class Table:
    """One table: the file's name (and the worksheet's), how it was read, and its rows from the top at each call."""

    name: str
    rows: Callable[[], Iterator[SourceRow]]
    notes: tuple[str, ...] = field(default=())
