"""What became of the measures: by measure and by complaint, with what is missing said beside it."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from clinic.people.access import page
from clinic.people.refusal import NotThere
from clinic.people.vocab import Region
from dashboards.figures import outcomes as figures
from dashboards.figures.shares import percent
from dashboards.pages.asking import VIEWERS, asked, chart
from dashboards.pages.csvs import csv_answer
from dashboards.pages.showing import Read, chart_csv, charted
from dashboards.pages.views.attendance import span_words
from dashboards.pages.words import DASH
from dashboards.read_models import outcomes as model
from dashboards.read_models.outcome_rows import Outcomes, Tally, by_measure, by_region, total

WORDS = {region.value: str(region.label) for region in Region}


def _found(request: HttpRequest) -> tuple[dict[str, object], Outcomes, str, Outcomes]:
    """(context, everything, the measure asked for, its rows). NotThere for a measure nobody has taken."""
    given = asked(request)
    everything = model.outcomes(given.user, given.today, given.clinician)
    code = request.GET.get("measure", "")
    if code and code not in everything.measures:
        raise NotThere
    return given.context, everything, code, everything.of(code) if code else everything


@page(*VIEWERS)
def outcomes(request: HttpRequest) -> HttpResponse:
    """The last value against the first one, for all measures or one (`?measure=`)."""
    return charted(request, "dashboards/outcomes.html", *_read(request))


def _read(request: HttpRequest) -> Read:
    context, everything, code, found = _found(request)
    tallies = by_region(found.rows)
    return (everything, code), lambda: {
        **context, "here": "outcomes", "csv": reverse("dashboards:outcomes_csv"), "whole": total(found.rows),
        "choices_of_measure": [("", "All measures", not code), *(
            (other, name, other == code) for other, name in everything.measures.items()
        )],
        "measures": chart("measures", figures.measures(found)),
        "regions": chart("regions", figures.regions(found, WORDS)),
        "heads": [word for _, word, _, _ in figures.PARTS],
        "measure_rows": [_cells(name, tally) for name, tally in by_measure(found.rows).items()],
        "region_rows": [
            (row, _cells(WORDS[row.region], tallies.get(row.region, Tally()))) for row in found.regions
        ],
        "episodes": sum(row.episodes for row in found.regions), "unmeasured": sum(row.unmeasured for row in found.regions),
    }


def _cells(name: str, tally: Tally) -> dict[str, object]:
    share = f"{tally.gained} of {tally.judged}, {percent(tally.gained / tally.judged)}" if tally.judged else DASH
    return {
        "name": name, "numbers": [getattr(tally, field) for field, *_ in figures.PARTS], "share": share,
        "interval": span_words(*(tally.interval or (None, None))), "judged": tally.judged,
    }


@page(*VIEWERS)
def outcomes_csv(request: HttpRequest) -> HttpResponse:
    """Each measure and complaint as a file; shares in percent, empty where nothing could be judged; or one chart."""
    if file := chart_csv(request, "outcomes", _read):
        return file
    _, _, _, found = _found(request)
    header = (
        "Measure", "Complaint", *(word for _, word, _, _ in figures.PARTS), "Better beyond error (%)", "Interval low (%)",
        "Interval high (%)",
    )
    return csv_answer("outcomes", header, (
        (
            row.name, WORDS[row.region], *(getattr(row.tally, field) for field, *_ in figures.PARTS),
            round(100 * row.tally.gained / row.tally.judged, 1) if row.tally.judged else None,
            *(None if end is None else round(100 * end, 1) for end in (row.tally.interval or (None, None))),
        )
        for row in found.rows
    ))
