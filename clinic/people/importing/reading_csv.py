"""CSV: encoding and delimiter found out and said; a row that cannot be taken apart loses no other."""

from __future__ import annotations

import codecs
import csv
import io
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from clinic.people.importing.faults import Fault, Unreadable
from clinic.people.importing.table import SourceRow, Table

DELIMITERS = {";": "semicolons", ",": "commas", "\t": "tabs", "|": "upright bars"}
MOST_LINE = 100_000       # characters of one physical line
MOST_LINES_OF_A_CELL = 60   # a quoted cell may run over that many lines before its quote counts as never closed
_MARKS = ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
_CHUNK = 1024 * 1024


def table(path: Path) -> Table:
    """The table of a CSV file."""
    encoding, note = find_encoding(path)
    delimiter, said = find_delimiter(path, encoding)
    return Table(path.name, lambda: _rows(path, encoding, delimiter), (note, said))


def find_encoding(path: Path) -> tuple[str, str]:
    """(codec, sentence). UTF-8 when every byte of it is; else Windows-1252, else Latin-1, which reads anything."""
    with path.open("rb") as stream:
        start = stream.read(4)
    for mark, codec in _MARKS:
        if start.startswith(mark):
            return codec, f"The file says it is {codec.removesuffix('-sig').upper()}."
    if _decodes(path, "utf-8"):
        return "utf-8", "Read as UTF-8."
    guess = "cp1252" if _decodes(path, "cp1252") else "latin-1"
    shown = {"cp1252": "Windows-1252", "latin-1": "Latin-1"}[guess]
    return guess, f"Not UTF-8: read as {shown}. Look at a name with an accent before you import."


def _decodes(path: Path, codec: str) -> bool:
    decoder = codecs.getincrementaldecoder(codec)()
    with path.open("rb") as stream:
        try:
            while chunk := stream.read(_CHUNK):
                decoder.decode(chunk)
            decoder.decode(b"", final=True)
        except UnicodeDecodeError:
            return False
    return True


def find_delimiter(path: Path, encoding: str) -> tuple[str, str]:
    """(delimiter, sentence): what parts the first lines into most cells; `sep=;` on the first line decides."""
    with _open(path, encoding) as stream:
        lines = [stream.readline(MOST_LINE) for _ in range(12)]
    head = lines[0].strip().casefold()
    if head.startswith("sep=") and head[4:5] in DELIMITERS:
        return head[4], f"Cells are parted by {DELIMITERS[head[4]]}, as the first line says."
    best = max(DELIMITERS, key=lambda sign: max((len(_parts(line, sign)) for line in lines), default=0))
    return best, f"Cells are parted by {DELIMITERS[best]}."


def _open(path: Path, encoding: str) -> TextIO:
    # newline="" keeps a line break inside a quoted cell as it is
    return io.TextIOWrapper(path.open("rb"), encoding=encoding, newline="")


def _parts(text: str, delimiter: str) -> list[str]:
    try:
        return next(csv.reader([text], delimiter=delimiter, strict=True), [])
    except csv.Error:
        return []


def _rows(path: Path, encoding: str, delimiter: str) -> Iterator[SourceRow]:
    with _open(path, encoding) as stream:
        lines = _Lines(stream, path.name)
        while True:
            line = lines.number + 1
            text = lines.take()
            if text is None:
                return
            if line == 1 and text.strip().casefold() == f"sep={delimiter}":
                continue
            yield _record(line, text, lines, delimiter)


class _Lines:
    """Physical lines with their number; lines looked at in vain can be given back."""

    def __init__(self, stream: TextIO, name: str) -> None:
        self.stream = stream
        self.name = name
        self.number = 0
        self.waiting: list[str] = []

    def take(self) -> str | None:
        text = self.waiting.pop() if self.waiting else self.stream.readline(MOST_LINE)
        if not text:
            return None
        if len(text) >= MOST_LINE:
            raise Unreadable("long_line", f"{self.name}, line {self.number + 1} is longer than {MOST_LINE} characters.")
        self.number += 1
        return text

    def give_back(self, texts: list[str]) -> None:
        self.waiting.extend(reversed(texts))
        self.number -= len(texts)


def _record(line: int, text: str, lines: _Lines, delimiter: str) -> SourceRow:
    """The row that starts here, with the lines its quoted cells run over. On a fault the lines after it are kept."""
    more: list[str] = []
    while True:
        try:
            cells = next(csv.reader([text + "".join(more)], delimiter=delimiter, strict=True), [])
            return SourceRow(line, tuple(cells))
        except csv.Error as error:
            # strict mode says "unexpected end of data" while a quote is open
            still_open = "end of data" in str(error)
            following = lines.take() if still_open and len(more) < MOST_LINES_OF_A_CELL else None
        if following is None:
            lines.give_back(more)
            return SourceRow(line, (text,), _quote_fault())
        more.append(following)


def _quote_fault() -> Fault:
    return Fault(
        "unclosed_quote", "A quotation mark in this line is not closed, so its cells cannot be told apart.",
        "Close the quotation mark, or write it twice where it is part of the text.",
    )
