"""Which column is which: headings are compared with the names a field is known by."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest

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
    """Match each heading with the field known by it. The first of two columns for one field is taken.

    A heading that could be one of two fields ("Client": a number or a name) waits until the certain ones have chosen.
    """
    known: dict[str, list[str]] = {}
    for field in fields:
        for name in dict.fromkeys(normal(name) for name in (field.code, field.label, *field.names)):
            known.setdefault(name, []).append(field.code)
    shown = tuple(as_text(heading) for heading in headings)
    candidates = [known.get(normal(heading), []) for heading in shown]
    index: dict[str, int] = {}
    doubled: list[tuple[str, str]] = []
    for column in sorted(range(len(shown)), key=lambda column: len(candidates[column])):
        codes = candidates[column]
        free = next((code for code in codes if code not in index), None)
        if free:
            index[free] = column
        elif codes:
            doubled.append((shown[column], shown[index[codes[0]]]))
    ignored = tuple(heading for heading, codes in zip(shown, candidates, strict=True) if heading and not codes)
    labels = {field.code: field.label for field in fields}
    missing = tuple(
        " or ".join(labels[code] for code in choices) for choices in requires if not index.keys() & set(choices)
    )
    return Columns(line, shown, index, ignored, tuple(doubled), missing)


def is_headings_again(columns: Columns, cells: Sequence[Cell]) -> bool:
    """Whether a row further down repeats the headings."""
    pairs = zip_longest(cells, columns.headings, fillvalue="")
    return any(columns.headings) and all(cell == heading or normal(cell) == normal(heading) for cell, heading in pairs)
