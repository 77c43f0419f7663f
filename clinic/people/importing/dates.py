"""Dates as people write them. Day first or month first is decided by a column's own evidence, never guessed."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Literal

from clinic.people.importing.cells import Cell, as_text
from clinic.people.importing.faults import Fault

DayOrder = Literal["dmy", "mdy"]
SHOWN: dict[DayOrder, str] = {"dmy": "day first", "mdy": "month first"}
# ECMA-376 part 1, 18.17.4.1: serial 1 is 1900-01-01, and 60 the 29 February 1900 that never was; counting from
# 1899-12-30 is right from 61 on; smaller numbers than 2200 are left out, because a cell with 1961 means a year
_SERIAL_ZERO = date(1899, 12, 30)
_SERIALS = range(2_200, 80_000)   # 1906 to 2119
_MONTHS = (
    "jan january ene enero", "feb february febrero", "mar march marzo", "apr april abr abril", "may mayo",
    "jun june junio", "jul july julio", "aug august ago agosto", "sep sept september septiembre",
    "oct october octubre", "nov november noviembre", "dec december dic diciembre",
)
_MONTH = {name: number for number, names in enumerate(_MONTHS, start=1) for name in names.split()}
_ISO = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})|(\d{4})(\d{2})(\d{2})")
_NUMERIC = re.compile(r"(\d{1,2})\s?([-/.])\s?(\d{1,2})\s?\2\s?(\d{4}|\d{2})")
_DAY_MONTH = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th|\.)?[\s-]?(?:of |de )?([a-z]+)\.?,?[\s-]?(?:de )?(\d{4}|\d{2})"
)
_MONTH_DAY = re.compile(r"([a-z]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})")
_WEEKDAY = re.compile(r"(?:mon|tue|wed|thu|fri|sat|sun)[a-z]*\.?,? ")
_HOW = "Write it like 2026-03-29."


def read_date(cell: Cell, order: DayOrder | None, *, short_years: bool = True) -> date:
    """The day a cell names. `short_years` reads 26 as 2026; without it a two-digit year is refused (birth dates).

    Fault: not_a_date, no_such_day, ambiguous_date, short_year.
    """
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    text = _plain(as_text(cell))
    if text.isdigit() and len(text) <= 5 and int(text) in _SERIALS:
        return _SERIAL_ZERO + timedelta(days=int(text))
    if found := _ISO.fullmatch(text):
        year, month, day = [part for part in found.groups() if part and part.isdigit()]
        return _day(year, int(month), int(day), short_years)
    if found := _NUMERIC.fullmatch(text):
        return _numeric(int(found[1]), int(found[3]), found[4], order, short_years)
    if (found := _DAY_MONTH.fullmatch(text)) and found[2] in _MONTH:
        return _day(found[3], _MONTH[found[2]], int(found[1]), short_years)
    if (found := _MONTH_DAY.fullmatch(text)) and found[1] in _MONTH:
        return _day(found[3], _MONTH[found[1]], int(found[2]), short_years)
    raise Fault("not_a_date", "This is not a date.", _HOW)


def _plain(text: str) -> str:
    folded = unicodedata.normalize("NFKD", text).casefold()
    return _WEEKDAY.sub("", " ".join("".join(c for c in folded if not unicodedata.combining(c)).split()), count=1)


def _day(year: str, month: int, day: int, short_years: bool) -> date:
    if len(year) == 2 and not short_years:
        raise Fault("short_year", "The year has two digits only.", "Write the year with four digits.")
    try:
        return date(int(year) + (2000 if len(year) == 2 else 0), month, day)
    except ValueError:
        raise Fault("no_such_day", "There is no such day in the calendar.", f"Look the date up. {_HOW}") from None


def _numeric(first: int, second: int, year: str, order: DayOrder | None, short_years: bool) -> date:
    if order == "dmy" or (order is None and first > 12) or first == second:
        return _day(year, second, first, short_years)
    if order == "mdy" or (order is None and second > 12):
        return _day(year, first, second, short_years)
    as_day, as_month = _day(year, second, first, short_years), _day(year, first, second, short_years)
    raise Fault(
        "ambiguous_date",
        f"This is {as_day.day} {as_day:%B} or {as_month.day} {as_month:%B}; the column does not say which.",
        f"Write {as_day.isoformat()} or {as_month.isoformat()}, or give --dates dmy or --dates mdy.",
    )


@dataclass
class DayOrderEvidence:
    """Counts the dates in a column that can be read one way only."""

    day_first: int = 0
    month_first: int = 0
    open: int = 0

    def add(self, cell: Cell) -> None:
        """Take one cell into account; anything but a numeric date is passed over."""
        found = _NUMERIC.fullmatch(_plain(cell.split()[0] if cell.split() else "")) if isinstance(cell, str) else None
        if not found or found[1] == found[3]:
            return
        as_day, as_month = _exists(found[4], found[3], found[1]), _exists(found[4], found[1], found[3])
        self.open += as_day and as_month
        self.day_first += as_day and not as_month
        self.month_first += as_month and not as_day

    @property
    def order(self) -> DayOrder | None:
        """What the column shows; None when it shows nothing or both."""
        if bool(self.day_first) == bool(self.month_first):
            return None
        return "dmy" if self.day_first else "mdy"

    def sentence(self, heading: str) -> str:
        """What was understood, empty when there was nothing to decide."""
        if not self.open:
            return ""
        if self.order:
            count = self.day_first or self.month_first
            return f"{heading}: read {SHOWN[self.order]}, because {count} of its dates allow nothing else."
        why = "its dates speak for both" if self.day_first else "no date in it decides"
        return f"{heading}: day first or month first? {why.capitalize()}; {self.open} dates are refused."


def _exists(year: str, month: str, day: str) -> bool:
    try:
        date(int(year) + (2000 if len(year) == 2 else 0), int(month), int(day))
    except ValueError:
        return False
    return True
