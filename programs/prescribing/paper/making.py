"""The handout of a program as it counts today."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.conf import settings
from django.http import HttpResponse

from clinic.people.queries import open_conditions
from programs.library.queries import warnings
from programs.prescribing.models import Program
from programs.prescribing.paper.handout import Heading, handout_data, handout_pdf
from programs.prescribing.queries import exercise_names, plans_of
from programs.prescribing.rules.timeline import in_force


def handout_of(program: Program, today: date) -> bytes:
    """The PDF, in the client's language. Whoever calls has let this person see the program."""
    return handout_pdf(said_of(program, today))


def said_of(program: Program, today: date) -> dict[str, Any]:
    """What the handout of a program says that day, in the client's language."""
    client, site = program.client, program.client.site
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


def as_file(pdf: bytes) -> HttpResponse:
    """The answer that holds it; the file's name says nothing of the client, because it stays in a folder of downloads."""
    return HttpResponse(pdf, content_type="application/pdf", headers={
        "Content-Disposition": 'inline; filename="handout.pdf"', "Cache-Control": "private, no-store",
    })
