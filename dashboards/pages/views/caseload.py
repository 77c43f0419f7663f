"""The caseload: one line a program, whoever needs a person first."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.safestring import SafeString

from clinic.people.access import page
from clinic.people.paging import page_of
from clinic.people.vocab import Role
from dashboards.pages import words
from dashboards.pages.asking import VIEWERS, asked
from dashboards.pages.csvs import csv_answer
from dashboards.pages.lines import drawn_line, line_of, peak
from dashboards.pages.live import marked, unchanged
from dashboards.read_models import caseload as model
from dashboards.read_models.caseload_rows import CaseloadRow

HEADER = (
    "Client", "Program", "Clinician", "Phase", "State", "Adherence 7 days (%)", "Adherence all (%)", "Sessions done",
    "Sessions asked", "Interval low (%)", "Interval high (%)", "Silent days", "Last log", "Pain", "Pain trend (a week)",
    "Attention", "Reasons", "Open suggestions", "Reassessment", "Reassessment due", "Next visit",
)


def _shown(request: HttpRequest) -> str:
    shown = request.GET.get("show", "all")
    return shown if shown in model.FILTERS else "all"


@page(*VIEWERS)
def caseload(request: HttpRequest) -> HttpResponse:
    """A clinician's own caseload, or that of a lead's sites, in attention order."""
    given, shown = asked(request), _shown(request)
    entries = model.caseload(given.user, given.today, given.clinician)
    counts = model.counts(entries)
    found = page_of([entry for entry in entries if shown in entry.flags], request)
    rows = model.rows_of(list(found), given.now, given.today)
    most, decides = max((peak(row) for row in rows), default=0), given.user.role == Role.CLINICIAN
    lines = [drawn_line(row, most, decides) for row in rows]
    state = (*(line.mark for line in lines), *counts.values())
    if response := unchanged(request, *state):
        return response
    context = {
        **given.context,
        "page": found,
        "lines": SafeString("".join(line.html for line in lines)),
        "filters": [(code, label, counts[code], code == shown) for code, label in words.FILTERS.items()],
        "heading": words.SHOWN[shown],
        "everybody": not entries,
        "decides": decides,
        "to_book": decides and any(row.reassessment and row.reassessment.state != "booked" for row in rows),
    }
    return marked(render(request, "dashboards/caseload.html", context), *state)


@page(*VIEWERS)
def caseload_csv(request: HttpRequest) -> HttpResponse:
    """The same lines as a file."""
    given, shown = asked(request), _shown(request)
    entries = [entry for entry in model.caseload(given.user, given.today, given.clinician) if shown in entry.flags]
    rows = model.rows_of(entries, given.now, given.today, ribbons=False)
    return csv_answer("caseload", HEADER, (_cells(row) for row in rows))


def _cells(row: CaseloadRow) -> list[Any]:
    line, standing = line_of(row), row.standing
    numbers: list[Any] = [None] * 10
    if standing:
        numbers = [
            _hundred(standing.adherence_7), _hundred(standing.adherence_all), standing.sessions_done,
            standing.sessions_prescribed, _hundred(standing.low), _hundred(standing.high), standing.silent_days,
            standing.last_logged.isoformat() if standing.last_logged else None, standing.pain_last,
            None if standing.pain_slope is None else round(standing.pain_slope, 2),
        ]
    return [
        row.client, row.program, row.clinician, line["phase"], line["word"], *numbers,
        standing.attention if standing else None, "; ".join(line["reasons"]),
        "; ".join(item.proposal for item in row.suggestions), line["look"],
        row.reassessment.due.isoformat() if row.reassessment else None, line["visit"],
    ]


def _hundred(share: float | None) -> int | None:
    return None if share is None else round(100 * min(1.0, share))
