"""Which column is which: headings are compared with the names a field is known by."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from clinic.people.importing.cells import Cell, as_text
from clinic.people.importing.sheet import Field

_BRACKETS = re.compile(r"[(\[].*?[)\]]")


def normal(heading: Cell) -> str:
    """The heading without case, accents, brackets and punctuation: `Date-of-Birth (dd/mm)` is `date of birth`."""
    text = unicodedata.normalize("NFKD", _BRACKETS.sub(" ", as_text(heading)).casefold())
    plain = "".join(sign for sign in text if not unicodedata.combining(sign))
    return " ".join(re.findall(r"[^\W_]+", plain))


@dataclass(frozen=True)
class Columns:
    """What the headings of a table meant for one kind of sheet."""

    line: int
    headings: tuple[str, ...]
    index: dict[str, int]           # field code -> column from 0
    ignored: tuple[str, ...]        # headings no field is known by
    doubled: tuple[tuple[str, str], ...]   # (heading left out, heading taken instead)
    missing: tuple[str, ...]        # labels of needed fields, alternatives joined by "or"

    def heading(self, code: str) -> str:
        """The file's own heading of a field; empty when it has none."""
        return self.headings[self.index[code]] if code in self.index else ""


def match(
    line: int, headings: Sequence[Cell], fields: Sequence[Field], requires: Sequence[Sequence[str]]
) -> Columns:
    """Match each heading with the field known by it. The first of two columns for one field is taken."""
    known = {normal(name): field.code for field in fields for name in (field.code, field.label, *field.names)}
    index: dict[str, int] = {}
    ignored: list[str] = []
    doubled: list[tuple[str, str]] = []
    shown = tuple(as_text(heading) for heading in headings)
    for column, heading in enumerate(shown):
        code = known.get(normal(heading))
        if code is None:
            ignored += [heading] if heading else []
        elif code in index:
            doubled.append((heading, shown[index[code]]))
        else:
            index[code] = column
    labels = {field.code: field.label for field in fields}
    missing = tuple(
        " or ".join(labels[code] for code in choices) for choices in requires if not index.keys() & set(choices)
    )
    return Columns(line, shown, index, tuple(ignored), tuple(doubled), missing)


def is_headings_again(columns: Columns, cells: Sequence[Cell]) -> bool:
    """Whether a row further down repeats the headings."""
    again = [normal(cell) for cell in cells]
    first = [normal(heading) for heading in columns.headings]
    while again and not again[-1]:
        again.pop()
    while first and not first[-1]:
        first.pop()
    return bool(again) and again == first
