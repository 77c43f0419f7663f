"""Where programs and exercises stand, and what no longer moves."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse

from clinic.people.access import page
from clinic.people.paging import page_of
from dashboards.figures import progression as figures
from dashboards.figures.adherence import PHASES
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.read_models.progression import progression as model
from dashboards.read_models.rows import STUCK_DAYS, TIMES, by_level, stuck


@page(*VIEWERS)
def progression(request: HttpRequest) -> HttpResponse:
    """Programs by phase, exercises by level and time at it, and those that stand still."""
    given = asked(request)
    found = model(given.user, given.now, given.clinician)
    counts, times = by_level(found.items), range(len(TIMES))
    shown = page_of(stuck(found.items), request)
    context = {
        **given.context, "here": "progression", "csv": reverse("dashboards:progression_csv"), "page": shown,
        "rows": list(shown), "stuck_days": STUCK_DAYS, "total": sum(found.phases.values()),
        "phases": chart("phases", figures.phases(found.phases)),
        "levels": chart("levels", figures.levels(found.items)),
        "phase_rows": [(word, found.phases[phase]) for phase, word in PHASES.items()],
        "times": [figures.time_word(time) for time in times],
        "level_rows": [
            (level, [counts[level, time] for time in times], sum(counts[level, time] for time in times))
            for level in sorted({level for level, _ in counts})
        ],
    }
    return render(request, "dashboards/progression.html", context)


@page(*VIEWERS)
def progression_csv(request: HttpRequest) -> HttpResponse:
    """Every exercise in force as a file."""
    given = asked(request)
    return csv_answer(
        "progression",
        ("Client", "Program", "Clinician", "Exercise", "Level", "Levels", "Since", "Days", "Paused", "Stands still"),
        (
            (
                row.client, row.program, row.clinician, row.exercise, row.level, row.levels, row.since.isoformat(),
                row.days, "yes" if row.paused else "no", "yes" if row.stuck else "no",
            )
            for row in model(given.user, given.now, given.clinician).items
        ),
    )
