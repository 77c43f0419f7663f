"""Pages of the exercise library, for clinicians and the practice lead."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from clinic.people.access import page
from clinic.people.paging import page_of
from clinic.people.vocab import Region, Role
from programs.library import queries
from programs.library.vocab import Equipment, Kind

READERS = (Role.CLINICIAN, Role.LEAD)
CARDS, SHEET = 12, 48   # a page of cards; a page of the contact sheet


def _asked(request: HttpRequest, name: str) -> str:
    return request.GET.get(name, "").strip()[:80]


@page(*READERS)
def exercise_list(request: HttpRequest) -> HttpResponse:
    """Search and filter."""
    asked = {name: _asked(request, name) for name in ("text", "region", "kind", "equipment")}
    return render(request, "library/list.html", {
        "asked": asked,
        "filtered": any(asked.values()),
        "page": page_of(queries.exercises(**asked), request, CARDS),
        "regions": Region.choices,
        "kinds": Kind.choices,
        "equipments": Equipment.choices,
    })


@page(*READERS)
def exercise_page(request: HttpRequest, slug: str) -> HttpResponse:
    """One exercise: levels, doses, cues, precautions, source."""
    side = "left" if request.GET.get("side") == "left" else "right"
    return render(request, "library/exercise.html", {"exercise": queries.exercise(slug), "side": side})


@page(*READERS)
def drawing_sheet(request: HttpRequest) -> HttpResponse:
    """Every drawing on a contact sheet."""
    side = "left" if request.GET.get("side") == "left" else "right"
    return render(request, "library/drawings.html", {"page": page_of(queries.drawings(), request, SHEET), "side": side})
