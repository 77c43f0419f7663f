"""Where programs and exercises stand, how they got there, what was decided, and what no longer moves."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.access import page
from clinic.people.paging import page_of
from dashboards.figures import progression as figures
from dashboards.figures.adherence import PHASES
from dashboards.figures.look import day
from dashboards.pages.asking import VIEWERS, Asked, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import Read, chart_csv, charted
from dashboards.pages.words import percent
from dashboards.read_models import progression as model
from dashboards.read_models.rows import STUCK_DAYS, TIMES, MonthRow
from programs.following.rules.survival import kaplan_meier
from programs.following.vocab import SuggestionKind

KINDS = {kind.value: str(kind.label) for kind in SuggestionKind}
LISTED = 40     # steps of the curve in the table, spread evenly


@page(*VIEWERS)
def progression(request: HttpRequest) -> HttpResponse:
    """Programs by phase, exercises by level and time at it, and those that stand still."""
    return charted(request, "dashboards/progression.html", *_standing(request))


def _standing(request: HttpRequest) -> Read:
    given = asked(request)
    names, levels = model.ladder()
    found = model.progression(given.user, given.today, given.clinician)
    shown = page_of(model.stuck_runs(given.user, given.today, levels, given.clinician), request)
    runs = list(shown)
    rows = model.with_why(runs, model.item_rows(runs, given.today, names, levels))
    times = range(len(TIMES))
    return (found.phases, found.levels, rows, shown.paginator.count), lambda: {
        **given.context, "here": "progression", "csv": reverse("dashboards:progression_csv"), "page": shown,
        "rows": [(row, figures.WHY[row.why]) for row in rows], "stuck_days": STUCK_DAYS, "total": sum(found.phases.values()),
        "phases": chart("phases", figures.phases(found.phases)),
        "levels": chart("levels", figures.levels(found.levels, shown.paginator.count)),
        "phase_rows": [(word, found.phases[phase]) for phase, word in PHASES.items()],
        "times": [figures.time_word(time) for time in times],
        "level_rows": [
            (level, [found.levels[level, time] for time in times], sum(found.levels[level, time] for time in times))
            for level in sorted({level for level, _ in found.levels})
        ],
    }


@page(*VIEWERS)
def course(request: HttpRequest) -> HttpResponse:
    """Phases and levels over the last months, decisions on suggestions, and how long a taper holds."""
    return charted(request, "dashboards/course.html", *_moving(request))


def _moving(request: HttpRequest) -> Read:
    given = asked(request)
    kinds, levels = model.over_time(given.user, given.today, given.clinician)
    decided = model.decided(given.user, given.clinician)
    people, (tapered, arrived) = model.since_taper(given.user, given.clinician), model.reached(given.user, given.clinician)
    steps, days = kaplan_meier(people), model.month_ends(given.today)
    spaced = steps[:: max(1, len(steps) // LISTED)] if steps else ()
    return (kinds, levels, decided, steps, tapered, arrived), lambda: {
        **given.context, "here": "course", "csv": reverse("dashboards:course_csv"), "total": len(kinds) + len(decided),
        "kinds": chart("phases-by-month", figures.over_time(kinds, days, levels=False)),
        "levels": chart("levels-by-month", figures.over_time(levels, days, levels=True)),
        "decisions": chart("decisions", figures.decisions(decided, KINDS)),
        "taper": chart("taper", figures.taper_curve(steps, len(people), tapered, arrived)),
        "days": [day(each) for each in days], "kind_rows": _named(kinds), "level_rows": levels,
        "decided": [(KINDS[row.kind], row) for row in decided],
        "steps": [(step, percent(step.share), percent(step.low), percent(step.high)) for step in spaced],
        "people": len(people), "tapered": tapered, "arrived": arrived,
    }


def _named(rows: list[MonthRow]) -> list[tuple[str, MonthRow]]:
    return [(PHASES[row.name], row) for kind in PHASES for row in rows if row.name == kind]


@page(*VIEWERS)
def progression_csv(request: HttpRequest) -> HttpResponse:
    """Every exercise in force as a file; or one chart of the page."""
    if file := chart_csv(request, "progression", _standing):
        return file
    given = asked(request)
    return csv_answer(
        "progression",
        ("Client", "Program", "Clinician", "Exercise", "Level", "Levels", "Since", "Days", "Paused", "Stands still"),
        (
            (
                row.client, row.program, row.clinician, row.exercise, row.level, row.levels, row.since.isoformat(),
                row.days, "yes" if row.paused else "no", "yes" if row.stuck else "no",
            )
            for row in model.all_items(given.user, given.today, given.clinician)
        ),
    )


@page(*VIEWERS)
def course_csv(request: HttpRequest) -> HttpResponse:
    """The numbers of the four charts as a file: chart, name, day or outcome, number; or one of them."""
    if file := chart_csv(request, "course", _moving):
        return file
    given = asked(request)
    return csv_answer("course", ("Chart", "Name", "Day or outcome", "Number"), _course_cells(given))


def _course_cells(given: Asked) -> list[tuple[Any, ...]]:
    kinds, levels = model.over_time(given.user, given.today, given.clinician)
    days = [each.isoformat() for each in model.month_ends(given.today)]
    cells: list[tuple[Any, ...]] = [
        ("Programs by phase", word, each, count)
        for word, row in _named(kinds) for each, count in zip(days, row.counts, strict=True)
    ]
    cells += [
        ("Exercises by level", f"Level {row.name}", each, count)
        for row in levels for each, count in zip(days, row.counts, strict=True)
    ]
    cells += [
        ("Suggestions", KINDS[row.kind], word, getattr(row, name))
        for row in model.decided(given.user, given.clinician) for word, name, *_ in figures.OUTCOMES
    ]
    return cells + [
        ("Still going since the taper", f"Day {step.day}", "share (%)", round(100 * step.share, 1))
        for step in kaplan_meier(model.since_taper(given.user, given.clinician))
    ]
