"""How the working hours were used, and whether the reassessments ahead fit into them. Nothing clinical."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.access import page
from clinic.people.paging import page_of
from dashboards.figures import hours as figures
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import Read, chart_csv, charted
from dashboards.read_models import hours as model
from dashboards.read_models.practice_rows import HoursRow, by_person, by_week, load_by_week


@page(*VIEWERS)
def hours(request: HttpRequest) -> HttpResponse:
    """Twelve weeks back and twelve ahead, for each clinician and together."""
    return charted(request, "dashboards/hours.html", *_read(request))


def _read(request: HttpRequest) -> Read:
    given = asked(request)
    used = model.hours_used(given.user, given.now, given.zone, given.clinician)
    load = model.review_load(given.user, given.now, given.zone, given.clinician)
    behind, ahead = by_week(used), load_by_week(load)
    shown = page_of(by_person(used, load), request)
    return (behind, ahead, list(shown)), lambda: {
        **given.context, "here": "hours", "csv": reverse("dashboards:hours_csv"), "page": shown,
        "used": chart("used", figures.used(used)), "load": chart("load", figures.load(load)),
        "weeks": [_cells(row) for row in reversed(behind.values())],
        "load_weeks": [(row, figures.hours_of(row.open), figures.hours_of(row.booked)) for row in ahead.values()],
        "minutes": max((row.minutes for row in load), default=0), "anybody": bool(shown.paginator.count),
        "people": [(_cells(line.behind), line) for line in shown],
    }


def _cells(row: HoursRow) -> dict[str, object]:
    fields = ("open", "used", "missed", "stranded", "free", "outside")
    cells = [figures.hours_of(getattr(row, field)) for field in fields]
    return {"row": row, "cells": cells, "share": f"{round(100 * row.used / row.open)} %" if row.open else "–"}


@page(*VIEWERS)
def hours_csv(request: HttpRequest) -> HttpResponse:
    """Each clinician's weeks as a file, those behind in minutes used, those ahead in reassessments and places.

    Or one chart of the page.
    """
    if file := chart_csv(request, "hours", _read):
        return file
    given = asked(request)
    used = model.hours_used(given.user, given.now, given.zone, given.clinician)
    load = model.review_load(given.user, given.now, given.zone, given.clinician)
    header = (
        "Clinician", "Week of", "Open (min)", "Visits (min)", "No-shows (min)", "Short gaps (min)", "Free (min)",
        "Outside hours (min)", "Reassessments due", "Places for them", "Not fitting by then",
    )
    behind = (
        (
            row.clinician, row.monday.isoformat(), row.open, row.used, row.missed, row.stranded, row.free, row.outside,
            *[None] * 3,
        )
        for row in used
    )
    ahead = (
        (row.clinician, row.monday.isoformat(), row.open, row.booked, *[None] * 4, row.due, row.places, row.over)
        for row in load
    )
    return csv_answer("hours", header, (*behind, *ahead))
