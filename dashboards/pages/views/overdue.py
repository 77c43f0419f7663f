"""Reviews that are overdue, and those that come due."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from clinic.people.access import page
from clinic.people.paging import page_of
from clinic.visits.vocab import ReassessmentReason
from dashboards.figures import overdue as figures
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.read_models import overdue as model
from dashboards.read_models.rows import AGES, by_age


@page(*VIEWERS)
def overdue(request: HttpRequest) -> HttpResponse:
    """How many, how long, with whom, and what is next."""
    given = asked(request)
    rows = model.overdue_rows(given.user, given.today, given.clinician)
    weeks = model.coming(given.user, given.today, given.clinician)
    counts = by_age(rows)
    ages = range(len(AGES))
    found = page_of(rows, request)
    context = {
        **given.context, "here": "overdue", "csv": reverse("dashboards:overdue_csv"), "page": found, "weeks": weeks,
        "ageing": chart("ageing", figures.ageing(rows)),
        "coming": chart("coming", figures.coming(weeks)),
        "ages": [figures.age_word(age) for age in ages],
        "age_rows": [
            (name, [counts[name, age] for age in ages], sum(counts[name, age] for age in ages))
            for name in sorted({name for name, _ in counts})
        ],
        "rows": [(row, ReassessmentReason(row.reason).label) for row in found],
    }
    return render(request, "dashboards/overdue.html", context)


@page(*VIEWERS)
def overdue_csv(request: HttpRequest) -> HttpResponse:
    """The overdue reviews as a file."""
    given = asked(request)
    rows = model.overdue_rows(given.user, given.today, given.clinician)
    return csv_answer(
        "overdue-reviews", ("Client", "Why", "Due", "Days overdue", "Clinician"),
        (
            (row.client, str(ReassessmentReason(row.reason).label), row.due.isoformat(), row.days, row.clinician)
            for row in rows
        ),
    )
