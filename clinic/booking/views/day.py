"""Pages of the book: the day, and one visit."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from clinic.booking import queries, wording
from clinic.booking.actions.cancel_series import cancel_series
from clinic.booking.actions.confirm_visit import confirm_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.actions.undo_change import undo_change
from clinic.booking.daybook import day_book
from clinic.booking.dayview import lay_out, neighbours
from clinic.booking.forms import CancelForm
from clinic.booking.localtime import day_from
from clinic.booking.waiting import is_free_again
from clinic.people.access import STAFF, me, page
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones


def day_url(visit: Any) -> str:
    """The page of the day that a visit is on."""
    day = zones.day_in(visit.starts, visit.site.zone)
    return f"{reverse('booking:day')}?day={day.isoformat()}"


@page(*STAFF)
def day(request: HttpRequest) -> HttpResponse:
    """A site's day, by clinician. `?day=`, and `?site=` by name where there are several."""
    sites = list(sites_for(me(request)))
    if not sites:
        raise NotThere
    site = next((site for site in sites if site.name == request.GET.get("site")), sites[0])
    now = timezone.now()
    today = zones.day_in(now, site.zone)
    book = day_book(me(request), site, day_from(request.GET.get("day", ""), today))
    before, after = neighbours(book)
    return render(
        request, "booking/day.html",
        {
            "book": book, "layout": lay_out(book), "sites": sites, "today": today, "before": before, "after": after,
            "undo": [
                (change, wording.change_in_words(change, site.zone)) for change in queries.to_undo(me(request), now)
            ],
        },
    )


@page(*STAFF, methods=("POST",))
def undo(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Take back what was just done; then the day the visit is on."""
    change = queries.change_for(me(request), public_id)
    try:
        done = undo_change(by=me(request), change=change, now=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
        return redirect(day_url(queries.appointment_for(me(request), change.appointment.public_id)))
    messages.success(request, f"Taken back. {done.client.name}: {done.get_status_display().lower()}.")
    return redirect(day_url(done))


@page(*STAFF, methods=("GET", "POST"))
def visit(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """One visit. POST marks it (`status`) or cancels it (`reason`)."""
    found = queries.appointment_for(me(request), public_id)
    if request.method != "POST":
        return _visit_page(request, found, CancelForm())
    form = CancelForm(None if "status" in request.POST else request.POST)
    try:
        if "status" in request.POST:
            done = _mark(request, found, request.POST["status"])
        elif form.is_valid():
            gone = cancel_series(
                by=me(request), appointment=found, reason=form.cleaned_data["reason"], now=timezone.now(),
                scope=form.cleaned_data["scope"] or "this",
            )
            done = gone[0]
            if len(gone) > 1:
                messages.success(request, f"{len(gone)} visits of the series are cancelled.")
        else:
            return _visit_page(request, found, form, status=400)
    except Refusal as refusal:
        return _visit_page(request, queries.appointment_for(me(request), public_id), form, refusal, refusal.status)
    messages.success(request, f"{done.client.name}: {done.get_status_display().lower()}.")
    return redirect(day_url(done))


def _mark(request: HttpRequest, found: Any, status: str) -> Any:
    """Mark the visit; a yes to a time that is held ends what else was offered."""
    if found.status == "pending" and status == "booked":
        return confirm_visit(by=me(request), appointment=found, now=timezone.now())
    return mark_visit(by=me(request), appointment=found, status=status, now=timezone.now())


def _visit_page(
    request: HttpRequest, found: Any, form: CancelForm, refusal: Refusal | None = None, status: int = 200
) -> HttpResponse:
    now = timezone.now()
    steps = [(code, wording.STEPS[code]) for code in queries.steps_for(found, now) if code in wording.STEPS]
    return render(
        request, "booking/visit.html",
        {
            "visit": found, "form": form, "refusal": refusal, "steps": steps, "shape": wording.SHAPES[found.status],
            "can_move": found.status in queries.UPCOMING, "can_cancel": queries.can_cancel(found),
            "free_again": is_free_again(found, now),
            "day_url": day_url(found), "away": found.client.zone != found.site.zone,
        },
        status=status,
    )
