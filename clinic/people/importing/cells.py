"""Cells on their way into and out of a spreadsheet program."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal

Cell = str | int | float | bool | date | datetime | time | None

# a spreadsheet program takes text that starts like this for a formula (OWASP, "CSV Injection"); the wide forms are
# turned into the narrow ones by some input methods before the program looks
_STARTS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def guarded(value: object) -> object:
    """The value as it may be written to a CSV file: text that a program would run gets an apostrophe in front.

    Numbers stay numbers, negative ones too. `as_text` takes the apostrophe off again.
    """
    if value is None or isinstance(value, int | float | Decimal):
        return value
    text = str(value)
    return f"'{text}" if text.startswith(_STARTS_A_FORMULA) else text


def as_text(cell: Cell) -> str:
    """A cell as the text a person sees: whole numbers without `.0`, dates as ISO 8601, no blanks around."""
    if cell is None:
        return ""
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    if isinstance(cell, datetime):
        return cell.isoformat(sep=" ", timespec="minutes")
    text = str(cell).strip()
    return text[1:] if text.startswith("'") and text[1:].startswith(_STARTS_A_FORMULA) else text


def shortened(cell: Cell, most: int = 40) -> str:
    """The cell for a report: one line, control characters shown as ␀-like pictures, at most `most` characters."""
    text = str(cell if cell is not None else "")
    shown = "".join(chr(0x2400 + ord(sign)) if ord(sign) < 32 else sign for sign in text)
    return shown if len(shown) <= most else f"{shown[: most - 1]}…"
