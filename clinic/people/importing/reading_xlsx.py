"""XLSX: read without unpacking more than is safe; dates and numbers stay what they are."""

from __future__ import annotations

import warnings
import zipfile
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

import openpyxl

from clinic.people.importing.faults import Unreadable
from clinic.people.importing.table import SourceRow, Table

MOST_UNPACKED = 256 * 1024 * 1024
MOST_PARTS = 2000
MOST_COLUMNS = 200
_BATCH = 500


def tables(path: Path) -> list[Table]:
    """One table per worksheet that has something in it, in the workbook's order."""
    _check_package(path)
    book = _open(path)
    try:
        names = [sheet.title for sheet in book.worksheets if sheet.sheet_state == "visible"]
    finally:
        book.close()
    found = [_table(path, name, alone=len(names) == 1) for name in names]
    filled = [table for table in found if any(not row.blank for row in islice(table.rows(), 50))]
    if not filled:
        raise Unreadable("empty_file", f"{path.name} has nothing on its visible worksheets.")
    return filled


def _table(path: Path, sheet: str, *, alone: bool) -> Table:
    return Table(
        path.name if alone else f"{path.name} [{sheet}]", lambda: _rows(path, sheet),
        (f"Excel workbook, worksheet {sheet}.",),
    )


def _check_package(path: Path) -> None:
    """Refuse a package that is no workbook, unpacks to too much, or whose XML brings declarations of its own.

    zipfile reads no further than the size a part declares, so the sum of those sizes bounds what is unpacked.
    """
    try:
        with zipfile.ZipFile(path) as package:
            parts = package.infolist()
            if "[Content_Types].xml" not in package.namelist() or "xl/workbook.xml" not in package.namelist():
                raise Unreadable("wrong_kind", f"{path.name} is a packed file, but no Excel workbook.")
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > MOST_UNPACKED:
                raise Unreadable(
                    "too_large", f"{path.name} would unpack to more than {MOST_UNPACKED // 2**20} MiB: it is not read."
                )
            if any(part.flag_bits & 1 for part in parts):
                raise Unreadable("locked", f"{path.name} is protected by a password. Save it without one.")
            for part in parts:
                if part.filename.endswith((".xml", ".rels")) and b"<!DOCTYPE" in _head(package, part):
                    raise Unreadable("wrong_kind", f"{path.name} holds declarations no workbook needs: it is not read.")
    except (zipfile.BadZipFile, OSError, NotImplementedError):
        raise Unreadable("damaged", f"{path.name} is damaged and cannot be unpacked.") from None


def _head(package: zipfile.ZipFile, part: zipfile.ZipInfo) -> bytes:
    # a document type stands before the first element, so the start of the part is enough
    with package.open(part) as stream:
        return stream.read(4096)


def _open(path: Path) -> Any:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")   # openpyxl warns about styles and extensions it leaves out
            return openpyxl.load_workbook(path, read_only=True, data_only=True)
    except Exception:
        # openpyxl raises KeyError, ValueError, ParseError and more for a package that is not quite a workbook
        raise Unreadable("damaged", f"{path.name} cannot be read as an Excel workbook.") from None


def _rows(path: Path, sheet: str) -> Iterator[SourceRow]:
    book = _open(path)
    try:
        worksheet = book[sheet]
        worksheet.reset_dimensions()   # some programs write a wrong size, which would cut the table off
        rows = worksheet.iter_rows(max_col=MOST_COLUMNS, values_only=True)
        line = 0
        while batch := _next(rows, path.name, line):
            for cells in batch:
                line += 1
                yield SourceRow(line, _without_tail(cells))
    finally:
        book.close()


def _next(rows: Iterator[Any], name: str, line: int) -> list[Any]:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")   # a date outside Excel's range is warned about and comes as "#VALUE!"
            return list(islice(rows, _BATCH))
    except Exception:
        raise Unreadable("damaged", f"{name} is damaged after row {line}.") from None


def _without_tail(cells: tuple[Any, ...]) -> tuple[Any, ...]:
    last = len(cells)
    while last and cells[last - 1] is None:
        last -= 1
    return tuple(cells[:last])
