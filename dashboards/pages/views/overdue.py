"""Reviews that are overdue, and those that come due."""

from __future__ import annotations

from collections import Counter

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.access import page
from clinic.people.paging import page_of
from clinic.people.vocab import Role
from clinic.visits.vocab import ReassessmentReason
from dashboards.figures import overdue as figures
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import Read, chart_csv, charted
from dashboards.read_models import overdue as model
from dashboards.read_models.rows import AGES


@page(*VIEWERS)
def overdue(request: HttpRequest) -> HttpResponse:
    """How many, how long, with whom and why, and what is next."""
    return charted(request, "dashboards/overdue.html", *_read(request))


def _read(request: HttpRequest) -> Read:
    given = asked(request)
    counts = model.counted(given.user, given.today, given.clinician)
    weeks = model.coming(given.user, given.today, given.clinician)
    found = page_of(model.overdue(given.user, given.today, given.clinician), request)
    rows = model.rows_of(found, given.today)
    words = {reason.value: str(reason.label) for reason in ReassessmentReason}
    return (counts, weeks, rows), lambda: {
        **given.context, "here": "overdue", "csv": reverse("dashboards:overdue_csv"), "page": found, "weeks": weeks,
        "ageing": chart("ageing", figures.ageing(counts)), "reasons": chart("reasons", figures.by_reason(counts, words)),
        "coming": chart("coming", figures.coming(weeks)),
        "ages": [figures.age_word(age) for age in range(len(AGES))],
        "age_rows": _table(counts.by_clinician), "reason_rows": [
            (words[reason], *rest) for reason, *rest in _table(counts.by_reason)
        ],
        "rows": [(row, words[row.reason]) for row in rows], "books": given.user.role == Role.CLINICIAN,
    }


def _table(counts: Counter[tuple[str, int]]) -> list[tuple[str, list[int], int]]:
    """(name, numbers by age, sum), by name."""
    ages = range(len(AGES))
    return [
        (name, [counts[name, age] for age in ages], sum(counts[name, age] for age in ages))
        for name in sorted({name for name, _ in counts})
    ]


@page(*VIEWERS)
def overdue_csv(request: HttpRequest) -> HttpResponse:
    """The overdue reviews as a file; or one chart of the page."""
    if file := chart_csv(request, "overdue-reviews", _read):
        return file
    given = asked(request)
    rows = model.rows_of(model.overdue(given.user, given.today, given.clinician), given.today)
    return csv_answer(
        "overdue-reviews", ("Client", "Why", "Due", "Days overdue", "Clinician"),
        (
            (row.client, str(ReassessmentReason(row.reason).label), row.due.isoformat(), row.days, row.clinician)
            for row in rows
        ),
    )
