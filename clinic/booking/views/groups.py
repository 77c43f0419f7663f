"""Pages of group visits: when groups meet, and who comes to one."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking import groups as reads
from clinic.booking import queries, wording
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.call_off_group import call_off_group
from clinic.booking.actions.open_group import open_group
from clinic.booking.forms import CallOffForm, GroupForm
from clinic.booking.localtime import start_of
from clinic.booking.offering import offers_in
from clinic.booking.views.day import day_url
from clinic.booking.vocab import HOLDING
from clinic.people.access import STAFF, me, page
from clinic.people.paging import page_of
from clinic.people.queries import client_for, search_clients, sites_for
from clinic.people.refusal import NotThere, Refusal

FOUND = 8   # clients shown for a name


@page(*STAFF, methods=("GET", "POST"))
def groups(request: HttpRequest) -> HttpResponse:
    """The groups to come, and planning one (POST), once or every week."""
    sites = list(sites_for(me(request)))
    if not sites:
        raise NotThere
    site = next((site for site in sites if site.name == request.GET.get("site")), sites[0])
    form = GroupForm(request.POST if request.method == "POST" else None, user=me(request), site=site)
    refusal = None
    if form.is_valid():
        asked = form.cleaned_data
        try:
            made = open_group(
                by=me(request), site=site, visit_type=queries.visit_type(asked["visit_type"]),
                clinician=queries.bookable_clinician(me(request), site, asked["clinician"]),
                start=start_of(asked["day"], asked["time"], site.zone), now=timezone.now(), weeks=asked["weeks"],
            )
        except NotThere:
            raise
        except Refusal as refused:
            refusal = refused
        else:
            messages.success(request, f"Planned: {made[0].visit_type.name}, {len(made)} time{'s' if len(made) > 1 else ''}.")
            return redirect(request.get_full_path())
    status = refusal.status if refusal else 400 if request.method == "POST" else 200
    context = {
        "page": page_of(reads.coming_groups(me(request), timezone.now()), request), "form": form, "site": site,
        "sites": sites, "refusal": refusal,
    }
    return render(request, "booking/groups.html", context, status=status)


@page(*STAFF, methods=("GET", "POST"))
def group(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """One group. GET `find` looks for clients; POST `client` gives one a place, `reason` calls the group off."""
    found = reads.group_for(me(request), public_id)
    form = CallOffForm(request.POST if "reason" in request.POST else None)
    if request.method != "POST":
        return _page(request, found, form)
    try:
        if "client" in request.POST:
            return _add(request, found)
        if form.is_valid():
            told = call_off_group(by=me(request), group=found, reason=form.cleaned_data["reason"], now=timezone.now())
            messages.success(request, f"Called off. {told} visit{'' if told == 1 else 's'} cancelled; the clients are told.")
            return redirect(day_url(found))
    except NotThere:
        raise
    except Refusal as refusal:
        return _page(request, reads.group_for(me(request), public_id), form, refusal)
    return _page(request, found, form, status=400)


def _add(request: HttpRequest, found: Any) -> HttpResponse:
    try:
        client = client_for(me(request), UUID(request.POST["client"]))
    except ValueError as error:
        raise NotThere from error
    if client.site_id != found.site_id:
        raise Refusal("invalid", "This client comes to another site.", status=400)
    visit = book_visit(
        by=me(request), client=client, visit_type=found.visit_type, clinician=found.clinician, start=found.starts,
        now=timezone.now(),
    )
    messages.success(request, f"{visit.client.name} has a place.")
    return redirect("booking:group", found.public_id)


def _page(
    request: HttpRequest, found: Any, form: CallOffForm, refusal: Refusal | None = None, status: int = 200
) -> HttpResponse:
    rows = reads.who_comes(me(request), found)
    joined = [visit for visit in rows if visit.status in HOLDING]
    asked = request.GET.get("find", "").strip()[:80]
    there = {visit.client_id for visit in joined}
    people = [each for each in search_clients(me(request), asked)[:FOUND] if each.pk not in there] if asked else []
    coming = found.called_off_at is None and found.starts > timezone.now()
    return render(
        request, "booking/group.html",
        {
            "group": found, "joined": [(visit, wording.SHAPES[visit.status]) for visit in joined],   # type: ignore[index]
            "gone": [(visit, wording.SHAPES[visit.status]) for visit in rows if visit.status not in HOLDING],   # type: ignore[index]
            "left": found.size - len(joined), "asked": asked, "people": people, "coming": coming, "form": form,
            "refusal": refusal, "instead": offers_in(refusal, found.site.zone), "day_url": day_url(found),
        },
        status=refusal.status if refusal else status,
    )
