"""The caseload: one line a program, whoever needs a person first."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.vocab import Role
from dashboards.pages import words
from dashboards.pages.csvs import csv_answer
from dashboards.read_models import caseload as model
from dashboards.read_models.people import chosen_clinician, clinicians
from programs.following.vocab import SuggestionKind

VIEWERS = (Role.CLINICIAN, Role.LEAD)
HEADER = (
    "Client", "Program", "Clinician", "Phase", "State", "Adherence 7 days (%)", "Adherence all (%)", "Sessions done",
    "Sessions asked", "Interval low (%)", "Interval high (%)", "Silent days", "Last log", "Pain", "Pain trend (a week)",
    "Attention", "Reasons", "Open suggestions", "Reassessment", "Reassessment due", "Next visit",
)


def _asked(request: HttpRequest) -> tuple[str, Any, list[Any]]:
    """(filter, the clinician chosen or None, whom the lead may choose)."""
    shown = request.GET.get("show", "all")
    choices = list(clinicians(me(request)))
    return shown if shown in model.FILTERS else "all", chosen_clinician(choices, request.GET.get("clinician", "")), choices


@page(*VIEWERS)
def caseload(request: HttpRequest) -> HttpResponse:
    """A clinician's own caseload, or that of a lead's sites, in attention order."""
    now = timezone.now()
    shown, clinician, choices = _asked(request)
    entries = model.caseload(me(request), now, clinician)
    counts = model.counts(entries)
    found = page_of([entry for entry in entries if shown in entry.flags], request)
    rows = model.rows_of(list(found), me(request), now)
    context = {
        "page": found,
        "lines": [_line(row) for row in rows],
        "most": max((day.full for row in rows for day in row.ribbon), default=0) or None,
        "filters": [(code, label, counts[code], code == shown) for code, label in words.FILTERS.items()],
        "heading": words.SHOWN[shown],
        "clinician": clinician,
        "choices": choices,
        "everybody": not entries,
        "decides": me(request).role == Role.CLINICIAN,
    }
    return render(request, "dashboards/caseload.html", context)


def _line(row: model.CaseloadRow) -> dict[str, Any]:
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
        "title": words.ribbon_title(row),
        "suggestions": [(item, str(SuggestionKind(item.kind).label)) for item in row.suggestions],
    }


@page(*VIEWERS)
def caseload_csv(request: HttpRequest) -> HttpResponse:
    """The same lines as a file."""
    now = timezone.now()
    shown, clinician, _ = _asked(request)
    entries = [entry for entry in model.caseload(me(request), now, clinician) if shown in entry.flags]
    return csv_answer("caseload", HEADER, [_cells(row) for row in model.rows_of(entries, me(request), now, ribbons=False)])


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
