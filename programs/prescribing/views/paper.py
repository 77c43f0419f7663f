"""The handout as a file to print, and as a page."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.prescribing.paper.making import as_file, handout_of, said_of
from programs.prescribing.queries import program_for


@page(Role.CLINICIAN, Role.LEAD)
def handout_pdf_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The program on one or two pages: drawings, doses, a grid to tick, when to stop, the way to the portal."""
    program = program_for(me(request), public_id)
    return as_file(handout_of(program, zones.day_in(timezone.now(), program.client.zone)))


@page(Role.CLINICIAN, Role.LEAD)
def handout_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The same handout as a page, with how to do each exercise and what it should feel like."""
    program = program_for(me(request), public_id)
    heard = said_of(program, zones.day_in(timezone.now(), program.client.zone))
    said = {name.replace("-", "_"): value for name, value in heard.items()}   # a template reads no hyphens
    said["days"] = [{**day, "boxes": range(day["boxes"])} for day in said["days"]]
    return render(request, "prescribing/handout.html", {"program": program, "said": said})
