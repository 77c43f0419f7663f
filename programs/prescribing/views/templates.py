"""Pages of the program templates."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.vocab import Role
from programs.prescribing.queries import template_for, template_plan, templates_for
from programs.prescribing.showing import named_items, template_card


@page(Role.CLINICIAN, Role.LEAD)
def template_list(request: HttpRequest) -> HttpResponse:
    """Templates, each with its minutes and its ribbon."""
    rows = page_of(templates_for(me(request)), request)
    cards = [template_card(template) for template in rows]
    return render(request, "prescribing/templates.html", {"page": rows, "cards": cards})


@page(Role.CLINICIAN, Role.LEAD)
def template_page(request: HttpRequest, slug: str) -> HttpResponse:
    """One template in words."""
    template = template_for(me(request), slug)
    plan = template_plan(template)
    return render(request, "prescribing/template.html", {"card": template_card(template), "items": named_items(plan)})
