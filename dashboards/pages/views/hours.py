"""How the working hours were used, and whether the reassessments ahead fit into them. Nothing clinical."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from clinic.people.access import page
from dashboards.figures import hours as figures
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.read_models import hours as model
from dashboards.read_models.practice_rows import HoursRow, by_week, load_by_week


@page(*VIEWERS)
def hours(request: HttpRequest) -> HttpResponse:
    """Twelve weeks back and twelve ahead, for each clinician and together."""
    given = asked(request)
    used = model.hours_used(given.user, given.now, given.zone, given.clinician)
    load = model.review_load(given.user, given.now, given.zone, given.clinician)
    people = {row.key: row.clinician for row in used}
    return render(request, "dashboards/hours.html", {
        **given.context, "here": "hours", "csv": reverse("dashboards:hours_csv"),
        "used": chart("used", figures.used(used)), "load": chart("load", figures.load(load)),
        "weeks": [_cells(row) for row in reversed(by_week(used).values())],
        "load_weeks": [
            (row, figures.hours_of(row.open), figures.hours_of(row.booked)) for row in load_by_week(load).values()
        ],
        "load_rows": [row for row in load if row.due or row.over] if len(people) > 1 else [],
        "minutes": max((row.minutes for row in load), default=0), "anybody": bool(people),
        "people": [_whole(name, [row for row in used if row.key == key]) for key, name in people.items()],
    })


def _cells(row: HoursRow) -> dict[str, object]:
    fields = ("open", "used", "missed", "stranded", "free", "outside")
    cells = [figures.hours_of(getattr(row, field)) for field in fields]
    return {"row": row, "cells": cells, "share": f"{round(100 * row.used / row.open)} %" if row.open else "–"}


def _whole(name: str, rows: list[HoursRow]) -> dict[str, object]:
    """One clinician's weeks added up."""
    sums = [sum(getattr(row, field) for row in rows) for field in ("open", "used", "missed", "stranded", "free", "outside")]
    share = f"{round(100 * sums[1] / sums[0])} %" if sums[0] else "–"
    return {"name": name, "cells": [figures.hours_of(minutes) for minutes in sums], "share": share}


@page(*VIEWERS)
def hours_csv(request: HttpRequest) -> HttpResponse:
    """Each clinician's weeks as a file, those behind in minutes used, those ahead in reassessments and places."""
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
