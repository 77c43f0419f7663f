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
from clinic.people.importing.refused import RefusedRow
from clinic.people.importing.report import Entry, Report
from clinic.people.importing.seen import Seen
from clinic.people.importing.sheet import Context, OneByOne, Reading, Row, Saved
from clinic.people.importing.table import SourceRow
from clinic.people.refusal import Refusal

log = logging.getLogger("intervale.importing")
TOGETHER = 1000   # rows that are saved in one transaction at most: others may write in between
Progress = Callable[[Recognised, int, int], None]   # (table, rows done, rows in all), before the first and as they go


def import_tables(
    found: Sequence[Recognised], begin: Callable[[], Context], report: Report, *, dry_run: bool, progress: Progress
) -> None:
    """Import the tables in the order given. A dry run is the same, inside a transaction that is rolled back.

    `begin` makes the context: inside that transaction, because the system actor may have to be made first. Rows that are
    saved many at once are undone after each lot, also in a dry run: nobody else waits until its end.
    """
    lots_only = all(one.sheet.save_many for one in found)
    with transaction.atomic() if dry_run and not lots_only else nullcontext():
        context = begin()
        for one in found:
            _TableRun(one, context, report, progress, dry_run).run()
        if dry_run and not lots_only:
            transaction.set_rollback(True)


class _TableRun:
    """One table on its way in."""

    def __init__(
        self, found: Recognised, context: Context, report: Report, progress: Progress, dry_run: bool
    ) -> None:
        self.found, self.context, self.report, self.progress = found, context, report, progress
        self.sheet, self.columns, self.name = found.sheet, found.columns, found.table.name
        self.dry_run, self.undo = dry_run, dry_run and self.sheet.save_many is not None
        self.orders: dict[str, DayOrder | None] = {}
        self.seen = Seen()

    def run(self) -> None:
        """Walk the table twice: once for the day order of its dates, once to save."""
        self.context.memo.clear()
        total, done = self._look_through(), 0
        self.progress(self.found, 0, total)
        rows = self._rows()
        while some := list(islice(rows, TOGETHER if self.sheet.save_many else 1)):
            self._import(some)
            done += len(some)
            self.progress(self.found, done, total)
        if self.sheet.finish and not self.dry_run:
            self.sheet.finish(self.context)
        self.seen.close()

    def _import(self, some: list[SourceRow]) -> None:
        """Save a lot of rows and tell what became of each, in their order."""
        read = [(source, *self._read(source)) for source in some if not self._is_headings(source)]
        ready = [row for _, row, faults in read if not faults]
        became = self._saved_many(ready) if self.sheet.save_many else {}
        for source, row, faults in read:
            if faults:
                self._refuse(source, row, faults)
                continue
            answer = became[row.line] if row.line in became else self._saved(row)
            if isinstance(answer, Saved):
                self._remember(row)
                self._note(source, answer)
            else:
                self._refuse(source, row, self._faults_of(answer))

    def _saved(self, row: Row) -> Saved | Exception:
        try:
            self._refuse_double(row)
            with transaction.atomic():
                saved = self.sheet.save(row, self.context)
                transaction.set_rollback(self.undo)
                return saved
        except Exception as error:
            return error

    def _saved_many(self, rows: list[Row]) -> dict[int, Saved | Exception]:
        """What became of them by line. Left out is what has to be saved by itself: a row that may be the same as one before
        it in this lot, and every row when the lot as a whole could not be saved."""
        first: dict[Hashable, Row] = {}
        some = [row for row in rows if (key := self.sheet.key(row)) is None or first.setdefault(key, row) is row]
        save_many, became = self.sheet.save_many, dict[int, Saved | Exception]()
        for row in some:
            try:
                self._refuse_double(row)
            except Fault as fault:
                became[row.line] = fault
        left = [row for row in some if row.line not in became]
        if save_many and left:
            try:
                with transaction.atomic():
                    answers = save_many(left, self.context)
                    transaction.set_rollback(self.undo)
            except OneByOne:
                return became
            except Exception as error:
                log.error("rows not saved together", exc_info=error)
                return became
            became |= {row.line: answer for row, answer in zip(left, answers, strict=True)}
        return became

    def _is_headings(self, source: SourceRow) -> bool:
        if source.fault is not None or not is_headings_again(self.columns, source.cells):
            return False
        self._enter(source, "noted", Fault("headings_again", "The headings stand here again.", "Nothing to do."))
        return True

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

    def _read(self, source: SourceRow) -> tuple[Row, list[Fault]]:
        """(what could be read, faults): every cell is looked at, so that one report names all that is wrong."""
        if source.fault:
            return Row(self.name, source.line, {}), [source.fault]
        if any(as_text(cell) for cell in source.cells[len(self.columns.headings) :]):
            return Row(self.name, source.line, {}), [Fault(
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
        return Row(self.name, source.line, values), faults

    def _refuse_double(self, row: Row) -> None:
        key = self.sheet.key(row)
        first = self.seen.line_of(key) if key is not None else None
        if first is not None:
            raise Fault("duplicate_in_file", f"This is the same as line {first}.", "Keep one of the two rows.")

    def _remember(self, row: Row) -> None:
        """Only a row that was taken can be doubled: a corrected one may follow a refused one."""
        key = self.sheet.key(row)
        if key is not None:
            self.seen.take(key, row.line)

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
        if self.report.keep:
            self.report.keep(RefusedRow(
                self.name, self.columns.headings, source.line, source.cells, faults, whole=source.fault is not None
            ))
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
