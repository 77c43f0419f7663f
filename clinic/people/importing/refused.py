"""The refused rows themselves, in a file of their own: mended there, they can be imported as they are."""

from __future__ import annotations

import csv
import os
import re
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

from clinic.people.importing.cells import Cell, as_text, guarded
from clinic.people.importing.faults import Fault

# columns beside the sheet's own, which an import leaves aside
TOLD = ("line in the sheet", "what is wrong", "how to mend it")
WHOLE = "the row as it stood"
ENDING = ".refused.csv"


@dataclass(frozen=True, slots=True)
class RefusedRow:
    """A row as it stood in its table, with all that is wrong with it. `whole`: it could not be taken apart."""

    table: str
    headings: Sequence[str]
    line: int
    cells: Sequence[Cell]
    faults: Sequence[Fault]
    whole: bool = False


Keep = Callable[[RefusedRow], None]


class RefusedRows:
    """One CSV file a table in a folder, made when the first row of that table is refused."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.files: dict[str, Path] = {}
        self._open = ExitStack()
        self._writers: dict[str, Any] = {}

    def __enter__(self) -> RefusedRows:
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def keep(self, row: RefusedRow) -> None:
        """Write the row. No cell that a spreadsheet program would run; reading takes the mark off again."""
        width = len(row.headings)
        if row.table not in self._writers:
            self._begin(row, width)
        own = [""] * width if row.whole else [as_text(cell) for cell in row.cells[:width]]
        own += [""] * (width - len(own))
        spare = row.cells if row.whole else row.cells[width:]
        said = [str(row.line), " ".join(f.wrong for f in row.faults), " ".join(f.mend for f in row.faults)]
        self._writers[row.table].writerow(
            [guarded(cell) for cell in (*own, *said, " ".join(as_text(cell).strip() for cell in spare))]
        )

    def _begin(self, row: RefusedRow, width: int) -> None:
        name = re.sub(r"[^\w.-]+", "_", row.table).strip("_.") or "table"
        path = self.folder / (name.removesuffix(".csv") + ENDING)
        writer = csv.writer(self._open.enter_context(_private(path)))
        writer.writerow([guarded(cell) for cell in (*row.headings[:width], *TOLD, WHOLE)])
        self._writers[row.table], self.files[row.table] = writer, path


def _private(path: Path) -> TextIO:
    """Readable by its owner only: it holds what the sheet says about clients."""
    return open(path, "w", encoding="utf-8-sig", newline="", opener=lambda name, flags: os.open(name, flags, 0o600))
