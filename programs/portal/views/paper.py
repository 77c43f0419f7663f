"""The client's program on paper."""

from __future__ import annotations

from uuid import UUID

from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from clinic.people.access import me
from clinic.people.refusal import NotThere
from programs.portal.queries.own import chosen_program, day_of
from programs.portal.views.client_page import client_page
from programs.prescribing.paper.making import as_file, handout_of


@client_page()
def handout(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The handout of one of the client's own programs, as their clinician gives it."""
    client, program, _others = chosen_program(me(request), public_id)
    if program is None:
        raise NotThere
    return as_file(handout_of(program, day_of(client, timezone.now())))
