"""Adherence by program and week, and by phase."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.access import page
from clinic.people.paging import page_of
from dashboards.figures import adherence as figures
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import Read, chart_csv, charted
from dashboards.pages.words import BANDS, percent
from dashboards.read_models import adherence as model
from dashboards.read_models.progression import phases
from dashboards.read_models.rows import BAND_ORDER, AdherenceRow, WeekCell
from programs.following.vocab import Band

LINES = 40       # programs a page: a heat map that can be taken in, and a page that stays small
SIGNS = {kind: (sign, words) for kind, _, sign, words in figures.STATES}


@page(*VIEWERS)
def adherence(request: HttpRequest) -> HttpResponse:
    """Who does how much, day by day in groups that look alike, or week by week (`?by=week`); all or one band (`?band=`)."""
    return charted(request, "dashboards/adherence.html", *_read(request))


def _read(request: HttpRequest) -> Read:
    given = asked(request)
    counts = phases(given.user, given.clinician)
    weekly, band = request.GET.get("by") == "week", request.GET.get("band", "")
    band = band if band in BAND_ORDER else ""
    columns = model.weeks(given.today) if weekly else model.days(given.today)
    found = page_of(model.programs(given.user, given.clinician, band), request, LINES)
    rows = (model.rows_of if weekly else model.day_rows)(model.lines_of(found), columns, given.today)
    return (counts, rows), lambda: {
        **given.context, "here": "adherence", "csv": reverse("dashboards:adherence_csv"), "page": found, "columns": columns,
        "phases": chart("phases", figures.phase_chart(counts)),
        "weekly": weekly, "filters": _filters(counts, band),
        "heat": chart(
            "weeks" if weekly else "days", figures.heat_map(rows, columns, counts, daily=not weekly), wide=True, key=_key()
        ),
        "bands": [BANDS[Band(band)][1] for band in BAND_ORDER],
        "phase_rows": [
            (word, [counts[phase, band] for band in BAND_ORDER], sum(counts[phase, band] for band in BAND_ORDER))
            for phase, word in figures.PHASES.items()
        ],
        "rows": [
            (row, *BANDS[Band(row.line.band)], figures.PATTERNS.get(row.pattern, ""), [_cell(cell) for cell in row.cells])
            for row in rows
        ],
    }


def _filters(counts: Mapping[tuple[str, str], int], chosen: str) -> list[tuple[str, str, int, bool]]:
    """(band, word, programs, chosen) of the bands there are, all of them first."""
    sums = {band: sum(number for (_, held), number in counts.items() if held == band) for band in BAND_ORDER}
    return [("", "All", sum(sums.values()), not chosen), *(
        (band, BANDS[Band(band)][1], number, band == chosen) for band, number in sums.items() if number or band == chosen
    )]


def _key() -> list[tuple[str, str]]:
    return [("71", "percent of the dose asked for"), *((sign, words) for _, _, sign, words in figures.STATES)]


def _cell(cell: WeekCell) -> tuple[str, str]:
    """(sign, words) of one week."""
    if cell.kind != "share":
        return SIGNS[cell.kind]
    return percent(cell.share).removesuffix(" %"), f"{percent(cell.share)} of the dose, {cell.done} of {cell.asked} sessions"


@page(*VIEWERS)
def adherence_csv(request: HttpRequest) -> HttpResponse:
    """Every program and week as a file: percent, or the word for why there is none; or one chart of the page."""
    if file := chart_csv(request, "adherence", _read):
        return file
    given = asked(request)
    mondays = model.weeks(given.today)
    rows = model.rows_of(model.lines_of(model.programs(given.user, given.clinician)), mondays, given.today)
    header = ["Client", "Program", "Clinician", "Phase", "State", *(f"Week of {day.isoformat()} (%)" for day in mondays)]
    return csv_answer("adherence", header, (_cells(row) for row in rows))


def _cells(row: AdherenceRow) -> list[Any]:
    line = row.line
    return [
        line.client, line.title, line.clinician, figures.PHASES[line.phase], BANDS[Band(line.band)][1],
        *(_csv_cell(cell) for cell in row.cells),
    ]


def _csv_cell(cell: WeekCell) -> int | str:
    if cell.share is not None:
        return round(100 * min(1.0, cell.share))
    return SIGNS[cell.kind][1]
