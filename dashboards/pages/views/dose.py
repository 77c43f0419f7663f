"""What was asked and what came of it: by minutes and phase, by exercise and side."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.access import page
from dashboards.figures import dose as figures
from dashboards.figures.adherence import PHASES
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import Read, chart_csv, charted
from dashboards.pages.words import percent
from dashboards.read_models import dose as model
from dashboards.read_models import dose_rows as rows_of
from dashboards.read_models.dose_rows import ExerciseRow


@page(*VIEWERS)
def dose(request: HttpRequest) -> HttpResponse:
    """Four charts, each with its table."""
    return charted(request, "dashboards/dose.html", *_read(request))


def _read(request: HttpRequest) -> Read:
    given = asked(request)
    courses = model.courses(given.user, given.clinician)
    totals, exercises = rows_of.totals(courses), model.exercises(given.user, given.clinician)
    bins, line, kinds = rows_of.by_minutes(totals), rows_of.line_of(totals), rows_of.by_kind(courses)
    skipped, uneven = rows_of.most_skipped(exercises), rows_of.most_uneven(exercises)
    return (bins, line, kinds, skipped, uneven), lambda: {
        **given.context, "here": "dose", "csv": reverse("dashboards:dose_csv"), "programs": len(totals),
        "least_days": rows_of.LEAST_DAYS, "least_sessions": rows_of.LEAST_SESSIONS,
        "minutes": chart("minutes", figures.by_minutes(bins, line)), "phases": chart("dose-phases", figures.by_phase(kinds)),
        "skipped": chart("skipped", figures.skipped(skipped)), "sides": chart("sides", figures.sides(uneven)),
        "bins": [(figures.bin_word(row), row, *map(percent, (row.mean, row.low, row.high))) for row in bins],
        "kinds": [(PHASES[row.kind], row, percent(row.low), percent(row.high)) for row in kinds],
        "reasons": [*figures.REASONS.values(), "No reason said"], "exercises": [_line(row) for row in skipped],
        "uneven": uneven,
    }


def _line(row: ExerciseRow) -> dict[str, Any]:
    low, high = row.limits
    return {
        "row": row, "share": percent(row.share), "low": percent(low), "high": percent(high),
        "reasons": [*row.skipped, row.unsaid],
    }


@page(*VIEWERS)
def dose_csv(request: HttpRequest) -> HttpResponse:
    """Every exercise as a file; or one chart of the page."""
    if file := chart_csv(request, "dose", _read):
        return file
    given = asked(request)
    header = (
        "Exercise", "Sessions", "Done", "Left out", "Left out (%)", *figures.REASONS.values(), "No reason said",
        "By side", "Left done less", "Right done less",
    )
    return csv_answer("exercises", header, (
        (
            row.name, row.sessions, row.done, row.missed, round(100 * row.share, 1), *row.skipped, row.unsaid, row.sided,
            row.less_left, row.less_right,
        )
        for row in model.exercises(given.user, given.clinician)
    ))
