"""Pages of the program templates."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.refusal import Refusal
from clinic.people.vocab import Role
from programs.prescribing.actions.edit_template import edit_template
from programs.prescribing.actions.save_template import save_template
from programs.prescribing.queries import (
    newest_revision,
    own_template_for,
    plan_of,
    program_for,
    template_for,
    template_plan,
    templates_for,
)
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
    return render(request, "prescribing/template.html", {
        "card": template_card(template), "items": named_items(plan), "may_edit": template.site_id is not None
    })


@page(Role.CLINICIAN, Role.LEAD, methods=("GET", "POST"))
def edit(request: HttpRequest, slug: str) -> HttpResponse:
    """Rename a template of one's site, or describe it anew."""
    template = own_template_for(me(request), slug)
    words = {
        "heading": f"Change {template.name}", "back": reverse("prescribing:template", args=[slug]),
        "back_words": "Back to the template", "button": "Save", "hint": "Programs that began from it stay as they are.",
        "name": template.name, "summary": template.summary,
    }
    if request.method == "POST":
        name, summary = request.POST.get("name", ""), request.POST.get("summary", "")
        try:
            edit_template(by=me(request), template=template, name=name, summary=summary, now=timezone.now())
        except Refusal as refusal:
            return _again(request, words, name, summary, refusal)
        messages.success(request, "Saved.")
        return redirect("prescribing:template", slug)
    return render(request, "prescribing/template_form.html", words)


@page(Role.CLINICIAN, methods=("GET", "POST"))
def from_program(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Keep a program's newest plan as a template of the client's site."""
    program = program_for(me(request), public_id)
    words = {
        "heading": "Keep as a template", "back": reverse("prescribing:program", args=[public_id]),
        "back_words": "Back to the program", "button": "Keep it",
        "hint": "Everybody at this site can begin from it. Notes to the client are left out. Do not name a client here.",
        "name": program.title, "summary": "",
    }
    if request.method == "POST":
        name, summary = request.POST.get("name", ""), request.POST.get("summary", "")
        try:
            template = save_template(
                by=me(request), site=program.client.site, name=name, plan=plan_of(newest_revision(program)),
                now=timezone.now(), summary=summary,
            )
        except Refusal as refusal:
            return _again(request, words, name, summary, refusal)
        messages.success(request, "Kept as a template.")
        return redirect("prescribing:template", template.slug)
    return render(request, "prescribing/template_form.html", words)


def _again(request: HttpRequest, words: dict[str, Any], name: str, summary: str, refusal: Refusal) -> HttpResponse:
    typed = {**words, "name": name, "summary": summary, "refusal": refusal}
    return render(request, "prescribing/template_form.html", typed, status=refusal.status)
