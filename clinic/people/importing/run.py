"""Importing: each row for itself, all of it undone again in a dry run."""

from __future__ import annotations

import logging
import unicodedata
from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import nullcontext
from itertools import islice
from typing import Any

from django.db import transaction

from clinic.people.importing.cells import as_text, shortened
from clinic.people.importing.columns import is_headings_again
from clinic.people.importing.dates import DayOrder, DayOrderEvidence
from clinic.people.importing.faults import Fault, RowFaults
from clinic.people.importing.recognise import Recognised
from clinic.people.importing.report import Entry, Report
from clinic.people.importing.sheet import Context, Reading, Row, Saved
from clinic.people.importing.table import SourceRow
from clinic.people.refusal import Refusal

log = logging.getLogger("intervale.importing")
TOGETHER = 500   # rows that a sheet's `finish` follows at the latest: others may write in between
Progress = Callable[[Recognised, int, int], None]   # (table, rows done, rows in all), before the first and after each


def import_tables(
    found: Sequence[Recognised], begin: Callable[[], Context], report: Report, *, dry_run: bool, progress: Progress
) -> None:
    """Import the tables in the order given. A dry run is the same, inside a transaction that is rolled back.

    `begin` makes the context: inside that transaction, because the system actor may have to be made first.
    """
    with transaction.atomic() if dry_run else nullcontext():
        context = begin()
        for one in found:
            _TableRun(one, context, report, progress).run()
        if dry_run:
            transaction.set_rollback(True)


class _TableRun:
    """One table on its way in."""

    def __init__(self, found: Recognised, context: Context, report: Report, progress: Progress) -> None:
        self.found, self.context, self.report, self.progress = found, context, report, progress
        self.sheet, self.columns, self.name = found.sheet, found.columns, found.table.name
        self.orders: dict[str, DayOrder | None] = {}
        self.seen: dict[int, int] = {}   # hash of a row's key -> the line it first stood on

    def run(self) -> None:
        """Walk the table twice: once for the day order of its dates, once to save."""
        self.context.memo.clear()
        total = self._look_through()
        self.progress(self.found, 0, total)
        rows, finish = enumerate(self._rows(), start=1), self.sheet.finish
        while some := list(islice(rows, TOGETHER)):
            with transaction.atomic() if finish else nullcontext():
                for done, source in some:
                    self._import(source)
                    self.progress(self.found, done, total)
                if finish:
                    finish(self.context)

    def _rows(self) -> Iterator[SourceRow]:
        return (row for row in self.found.table.rows() if row.line > self.columns.line and not row.blank)

    def _look_through(self) -> int:
        """Find the day order of each column of dates; the number of rows."""
        codes = [field.code for field in self.sheet.fields if field.has_days and field.code in self.columns.index]
        evidence = {code: DayOrderEvidence() for code in codes}
        total = 0
        for source in self._rows():
            total += 1
            for code in codes:
                evidence[code].add(self._cell(source, code))
        for code in codes:
            self.orders[code] = self.context.dates or evidence[code].order
            said = "" if self.context.dates else evidence[code].sentence(self.columns.heading(code))
            if said:
                self.report.understood.append(f"{self.name}: {said}")
        return total

    def _cell(self, source: SourceRow, code: str) -> Any:
        column = self.columns.index.get(code)
        return source.cells[column] if column is not None and column < len(source.cells) else None

    def _import(self, source: SourceRow) -> None:
        if source.fault is None and is_headings_again(self.columns, source.cells):
            self._enter(source, "noted", Fault("headings_again", "The headings stand here again.", "Nothing to do."))
            return
        values, faults = self._read(source)
        row = Row(self.name, source.line, values)
        try:
            if faults:
                raise RowFaults(faults)
            self._refuse_double(row)
            with transaction.atomic():
                saved = self.sheet.save(row, self.context)
            self._remember(row)
        except Exception as error:
            self._refuse(source, row, self._faults_of(error))
            return
        self._note(source, saved)

    def _read(self, source: SourceRow) -> tuple[dict[str, Any], list[Fault]]:
        """(values by field, faults): every cell is looked at, so that one report names all that is wrong."""
        if source.fault:
            return {}, [source.fault]
        if any(as_text(cell) for cell in source.cells[len(self.columns.headings) :]):
            return {}, [Fault(
                "too_many_cells", "This row has more cells than there are headings.",
                "Put quotation marks around a cell that holds the sign between cells.",
            )]
        values: dict[str, Any] = {}
        faults: list[Fault] = []
        for field in self.sheet.fields:
            cell = self._cell(source, field.code)
            try:
                if not as_text(cell):
                    if field.needed and field.code in self.columns.index:
                        raise Fault("missing_value", f"{field.label} is empty.", "Fill it in.")
                    continue
                _refuse_control_characters(cell)
                reading = Reading(self.orders.get(field.code), self.context.site.region_code)
                values[field.code] = field.read(cell, reading)
            except Fault as fault:
                fault.field = field.code
                faults.append(fault)
        return values, faults

    def _refuse_double(self, row: Row) -> None:
        first = self.seen.get(hash(self.sheet.key(row)))
        if first is not None:
            raise Fault("duplicate_in_file", f"This is the same as line {first}.", "Keep one of the two rows.")

    def _remember(self, row: Row) -> None:
        """Only a row that was taken can be doubled: a corrected one may follow a refused one."""
        key = self.sheet.key(row)
        if key is not None:
            self.seen[hash(key)] = row.line

    def _faults_of(self, error: Exception) -> tuple[Fault, ...]:
        match error:
            case Fault():
                return (error,)
            case RowFaults():
                return error.faults
            case Refusal():
                mend = self.sheet.mends.get(error.code, "Change the row and import it again.")
                known = {field.code for field in self.sheet.fields}
                told = {field: said for field, said in error.fields.items() if field in known}
                return tuple(Fault(error.code, said, mend, field) for field, said in told.items()) or (
                    Fault(error.code, error.sentence, mend),
                )
        # the row is refused and the others go on; the log names the kind of error and its place, never its text
        log.error("row not saved", exc_info=error)
        return (Fault(
            "not_saved", f"This row could not be saved ({type(error).__name__}).",
            "Send this line of the report to whoever looks after Intervale.",
        ),)

    def _refuse(self, source: SourceRow, row: Row, faults: Sequence[Fault]) -> None:
        self.report.count(self.name, "refused")
        for fault in faults:
            self._enter(source, "refused", fault)
        for mark in self.sheet.marks(row):
            self.context.refused[mark] = f"{self.name} line {source.line}"

    def _note(self, source: SourceRow, saved: Saved) -> None:
        self.report.count(self.name, saved.result)
        for code, sentence in saved.remarks:
            self._enter(source, "noted", Fault(code, sentence, "Change it in Intervale if the sheet is right."))

    def _enter(self, source: SourceRow, outcome: Any, fault: Fault) -> None:
        heading = self.columns.heading(fault.field)
        value = shortened(self._cell(source, fault.field)) if heading else ""
        self.report.add(Entry(
            self.name, source.line, heading, outcome, fault.code, value, fault.wrong, fault.mend,
        ))


def _refuse_control_characters(cell: Hashable) -> None:
    if isinstance(cell, str) and any(unicodedata.category(sign) == "Cc" and sign not in "\t\r\n" for sign in cell):
        raise Fault("control_character", "There is an invisible control character in this cell.", "Type the cell anew.")
