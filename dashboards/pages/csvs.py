"""Tables as files that a spreadsheet program opens without running anything in them."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

from clinic.people.importing.cells import guarded

Cell = str | int | float | None


def csv_answer(name: str, header: Sequence[str], rows: Iterable[Sequence[Cell]]) -> HttpResponse:
    """A CSV download (RFC 4180, UTF-8 with a mark so that spreadsheets read accents). Text that would run is defused."""
    answer = HttpResponse("\N{ZERO WIDTH NO-BREAK SPACE}", content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    writer = csv.writer(answer)
    writer.writerow(header)
    writer.writerows([guarded(value) for value in row] for row in rows)
    return answer
