"""The handout, as a file to print and as a page."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.queries import open_conditions
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.library.queries import warnings
from programs.prescribing.paper.handout import Heading, handout_data, handout_pdf
from programs.prescribing.queries import exercise_names, plans_of, program_for
from programs.prescribing.rules.timeline import in_force


@page(Role.CLINICIAN, Role.LEAD)
def handout_pdf_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The program on one or two pages: drawings, doses, a grid to tick, when to stop, the way to the portal."""
    # the file's name says nothing of the client: it stays in a folder of downloads
    return HttpResponse(handout_pdf(_said(program_for(me(request), public_id))), content_type="application/pdf", headers={
        "Content-Disposition": 'inline; filename="handout.pdf"', "Cache-Control": "private, no-store",
    })


@page(Role.CLINICIAN, Role.LEAD)
def handout_page(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The same handout as a page, with how to do each exercise and what it should feel like."""
    program = program_for(me(request), public_id)
    said = {name.replace("-", "_"): value for name, value in _said(program).items()}   # a template reads no hyphens
    said["days"] = [{**day, "boxes": range(day["boxes"])} for day in said["days"]]
    return render(request, "prescribing/handout.html", {"program": program, "said": said})


def _said(program: Any) -> dict[str, Any]:
    """What the handout of a program says today, in the client's language."""
    client, site = program.client, program.client.site
    today = zones.day_in(timezone.now(), client.zone)
    versions = plans_of(program)
    dated = [(revision.effective_from, plan) for revision, plan in versions]
    plan = in_force(dated, max(today, program.starts)) or versions[-1][1]
    slugs = sorted({item.exercise for item in plan.items})
    names = exercise_names(slugs, client.language)
    against = warnings(slugs, open_conditions(client, today), client.language)
    care = [(names.get(row.slug, row.slug), row.reason) for row in against]
    heading = Heading(
        program.title, client.given_name, program.clinician.name, site.name, site.phone, site.emergency_number,
        f"{settings.PUBLIC_URL}/portal/", client.language,
    )
    return handout_data(heading, plan, care, today)
