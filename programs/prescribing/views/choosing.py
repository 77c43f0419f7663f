"""Where a program begins: a template, another client's program, or nothing; and finding an exercise to add."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.queries import episode_for, open_conditions
from clinic.people.refusal import NotThere
from clinic.people.rules import zones
from clinic.people.vocab import Role
from programs.prescribing.finding import found
from programs.prescribing.prescriber import EMPTY, Draft, draft_of
from programs.prescribing.queries import (
    newest_revision,
    open_program,
    plan_of,
    program_for,
    programs_to_copy,
    template_for,
    template_plan,
    templates_for,
)
from programs.prescribing.screening import standing_of
from programs.prescribing.shaping import copy_of
from programs.prescribing.showing import template_card

FROM_NOTHING = "none"   # ?template=none: an empty plan
COPIES = 12             # programs on a page of the list to copy from


def first_draft(request: HttpRequest, today: Any) -> Draft | None:
    """The draft that the address asks for: ?template=<slug>, ?template=none or ?copy=<program>; None to choose."""
    slug, copied = request.GET.get("template", ""), request.GET.get("copy", "")
    if copied:
        program = program_for(me(request), uuid_of(copied))
        draft = copy_of(plan_of(newest_revision(program)), title=program.title)
    elif slug == FROM_NOTHING:
        draft = Draft({"phases": [dict(row) for row in EMPTY["phases"]], "items": []}, {"title": ""})
    elif slug:
        template = template_for(me(request), slug)
        draft = draft_of(template_plan(template, today), title=template.name)
    else:
        return None
    draft.texts["starts"] = today.isoformat()
    return draft


def choose(request: HttpRequest, context: dict[str, Any]) -> HttpResponse:
    """Templates with their minutes and ribbons; ?from=programs lists own clients' programs instead."""
    if request.GET.get("from") == "programs":
        text = request.GET.get("text", "").strip()[:80]
        rows = page_of(programs_to_copy(me(request), text), request, COPIES)
        return render(request, "prescribing/copy.html", {**context, "page": rows, "text": text})
    rows = page_of(templates_for(me(request)), request)
    cards = [template_card(template) for template in rows]
    return render(request, "prescribing/choose.html", {
        **context, "page": rows, "cards": cards, "open": open_program(context["episode"]),
        "standing": standing_of(context["client"], context["today"]),
    })


@page(Role.CLINICIAN)
def find(request: HttpRequest) -> HttpResponse:
    """Exercises that fit a search, for the add box; ?episode= says for whom, so that precautions show."""
    episode = episode_for(me(request), uuid_of(request.GET.get("episode", "")))
    today = zones.day_in(timezone.now(), episode.client.zone)
    return render(request, "prescribing/parts/found.html", {
        "found": found(request.GET, open_conditions(episode.client, today))
    })


def page_asked(do: str, post: QueryDict) -> dict[str, str]:
    """The search fields of a form as sent; `find:2` asks for the second page of what is found."""
    verb, _, number = do.partition(":")
    asked = {name: text for name, text in post.items() if name.startswith("find.") and isinstance(text, str)}
    return {**asked, "find.page": number if verb == "find" else ""}


def uuid_of(text: str) -> UUID:
    """The UUID in an address; NotThere when it is none."""
    try:
        return UUID(text)
    except ValueError as error:
        raise NotThere from error
