"""The caseload: one line a program, whoever needs a person first."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from clinic.people.access import page
from clinic.people.paging import page_of
from clinic.people.vocab import Role
from dashboards.pages import words
from dashboards.pages.asking import VIEWERS, asked
from dashboards.pages.csvs import csv_answer
from dashboards.read_models import caseload as model
from programs.following.vocab import SuggestionKind

DAY_WIDTH = 5   # user units of ribbon a day: today stands under today in every line
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
    context = {
        **given.context,
        "page": found,
        "lines": [_line(row, max((_peak(each) for each in rows), default=0)) for row in rows],
        "filters": [(code, label, counts[code], code == shown) for code, label in words.FILTERS.items()],
        "heading": words.SHOWN[shown],
        "everybody": not entries,
        "decides": given.user.role == Role.CLINICIAN,
    }
    return render(request, "dashboards/caseload.html", context)


def _peak(row: model.CaseloadRow) -> int:
    """Seconds of the longest day in the row's ribbon."""
    return max((day.full for day in row.ribbon), default=0)


def _line(row: model.CaseloadRow, most: int = 0) -> dict[str, Any]:
    shape, word = words.band_words(row)
    look_shape, look_word = words.look_words(row)
    standing = row.standing
    return {
        "row": row, "standing": standing, "shape": shape, "word": word, "phase": words.phase_words(row),
        "reasons": [words.reason_words(reason) for reason in standing.reasons] if standing else [],
        "seven": words.percent(standing.adherence_7 if standing else None),
        "whole": words.percent(standing.adherence_all if standing else None),
        "sessions": words.share_words(
            standing.sessions_done, standing.sessions_prescribed, standing.low, standing.high
        ) if standing else words.DASH,
        "trend": words.slope_words(standing.pain_slope if standing else None),
        "look_shape": look_shape, "look": look_word, "look_reason": words.look_reason(row),
        "may_book": row.reassessment is not None and row.reassessment.state != "booked",
        "visit": words.time_words(row.visit.starts, row.visit.zone) if row.visit else "",
        "title": words.ribbon_title(row), "width": DAY_WIDTH * len(row.ribbon),
        # one scale for all would leave threads of the short programs beside a long one: at most twice as thick as its share
        "most": max(_peak(row), most // 2) or None,
        "suggestions": [(item, str(SuggestionKind(item.kind).label)) for item in row.suggestions],
    }


@page(*VIEWERS)
def caseload_csv(request: HttpRequest) -> HttpResponse:
    """The same lines as a file."""
    given, shown = asked(request), _shown(request)
    entries = [entry for entry in model.caseload(given.user, given.today, given.clinician) if shown in entry.flags]
    rows = model.rows_of(entries, given.now, given.today, ribbons=False)
    return csv_answer("caseload", HEADER, (_cells(row) for row in rows))


def _cells(row: model.CaseloadRow) -> list[Any]:
    line, standing = _line(row), row.standing
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
