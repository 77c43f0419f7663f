"""The handout as a file to print."""

from __future__ import annotations

from uuid import UUID

from django.conf import settings
from django.http import HttpRequest, HttpResponse
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
    program = program_for(me(request), public_id)
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
    # the file's name says nothing of the client: it stays in a folder of downloads
    return HttpResponse(handout_pdf(handout_data(heading, plan, care, today)), content_type="application/pdf", headers={
        "Content-Disposition": 'inline; filename="handout.pdf"', "Cache-Control": "private, no-store",
    })
