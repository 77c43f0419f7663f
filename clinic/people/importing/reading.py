"""Opening a file: what it is by its first bytes, whatever its name says."""

from __future__ import annotations

from pathlib import Path

from clinic.people.importing import reading_csv, reading_xlsx
from clinic.people.importing.faults import Unreadable
from clinic.people.importing.table import Table

MOST_BYTES = 256 * 1024 * 1024   # about two million rows of visits
ENDINGS = {".csv", ".tsv", ".txt", ".xlsx"}
_REFUSED_MAGIC = {
    b"\xd0\xcf\x11\xe0": "an old Excel file (.xls). Save it as .xlsx or CSV",
    b"%PDF": "a PDF. Export the table as CSV or .xlsx",
    b"\x1f\x8b": "packed (gzip). Unpack it first",
    b"{\\rt": "a text document. Export the table as CSV or .xlsx",
    b"<htm": "a web page. Export the table as CSV or .xlsx",
    b"<!DO": "a web page. Export the table as CSV or .xlsx",
}


def tables(path: Path) -> list[Table]:
    """The tables in a file: one for CSV, one per filled worksheet for XLSX. Unreadable says why there are none."""
    try:
        size = path.stat().st_size
        with path.open("rb") as stream:
            start = stream.read(8)
    except OSError as error:
        why = error.strerror or "unknown reason"
        raise Unreadable("cannot_open", f"{path.name} cannot be opened: {why}.") from None
    if not size:
        raise Unreadable("empty_file", f"{path.name} is empty.")
    if size > MOST_BYTES:
        raise Unreadable(
            "too_large", f"{path.name} has {size // 2**20} MiB; {MOST_BYTES // 2**20} MiB can be read. Split it."
        )
    for magic, what in _REFUSED_MAGIC.items():
        if start.startswith(magic):
            raise Unreadable("wrong_kind", f"{path.name} is {what}.")
    packed = start.startswith(b"PK")
    if packed != (path.suffix.lower() == ".xlsx"):
        is_, named = ("a packed file", "CSV") if packed else ("no packed file", ".xlsx")
        raise Unreadable("wrong_kind", f"{path.name} is called {named} but is {is_} inside. Export it again.")
    return reading_xlsx.tables(path) if packed else [reading_csv.table(path)]
