"""What became of each row: totals, and an entry for whatever was refused or remarked on."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable
from dataclasses import astuple, dataclass, field
from typing import Literal, TextIO

from clinic.people.importing.cells import guarded
from clinic.people.importing.refused import Keep

HEADINGS = ("file", "line", "column", "outcome", "code", "value", "what is wrong", "how to mend it")
KEPT = 200   # entries held in memory; a sink gets all of them
Outcome = Literal["refused", "noted"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One remark about one cell, or about the row when `column` is empty."""

    file: str
    line: int
    column: str
    outcome: Outcome
    code: str
    value: str
    wrong: str
    mend: str


@dataclass
class Report:
    """Totals by table and outcome, and the first entries; `sink` is handed every entry as it comes, `keep` every row that
    was refused."""

    sink: Callable[[Entry], None] | None = None
    keep: Keep | None = None
    totals: dict[str, Counter[str]] = field(default_factory=dict)
    entries: list[Entry] = field(default_factory=list)
    understood: list[str] = field(default_factory=list)

    def count(self, file: str, result: str) -> None:
        """One more row of this table ended like this."""
        self.totals.setdefault(file, Counter())[result] += 1

    def add(self, entry: Entry) -> None:
        """Take an entry."""
        if len(self.entries) < KEPT:
            self.entries.append(entry)
        if self.sink:
            self.sink(entry)

    def total(self, result: str) -> int:
        """Rows of all tables that ended like this."""
        return sum(counts[result] for counts in self.totals.values())


def csv_sink(stream: TextIO) -> Callable[[Entry], None]:
    """A sink that writes the report as CSV (RFC 4180), no cell of which a spreadsheet program would run."""
    writer = csv.writer(stream)
    writer.writerow(HEADINGS)
    return lambda entry: writer.writerow([guarded(value) for value in astuple(entry)])
