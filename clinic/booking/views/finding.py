"""Pages that find an opening: booking a visit, and moving one."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking import queries, recalls
from clinic.booking.actions.book_for_recall import book_for_recall
from clinic.booking.actions.move_series import move_series
from clinic.booking.forms import OpeningsForm, TimeForm
from clinic.booking.localtime import day_from, instant_from, start_of
from clinic.booking.offering import Offer, offer_of, offers_in, said
from clinic.booking.views.asking import ask
from clinic.booking.views.day import day_url
from clinic.booking.vocab import SeriesScope
from clinic.people.access import STAFF, me, page
from clinic.people.queries import client_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones

SHOWN_DAYS = 28


def picked(request: HttpRequest, times: TimeForm, zone: str) -> tuple[str, datetime]:
    """The clinician's id and the start: of the opening pressed, or of the time typed. Refusal when neither is clear."""
    pressed = request.POST.get("opening", "")
    if pressed:
        who, _, start = pressed.partition(" ")
        return who, instant_from(start)
    if not times.is_valid():
        raise Refusal("invalid", "Choose an opening, or give a day, a time and a clinician.", status=400)
    typed = times.cleaned_data
    return typed["own_clinician"], start_of(typed["own_day"], typed["own_time"], zone)


def _clinician(request: HttpRequest, site: Any, public_id: str) -> Any:
    try:
        return queries.bookable_clinician(me(request), site, UUID(public_id))
    except ValueError as error:
        raise NotThere from error


@page(*STAFF, methods=("GET", "POST"))
def new(request: HttpRequest) -> HttpResponse:
    """Ask in plain words (POST `text`), look at openings (GET), book one (POST `opening`, or a day and time)."""
    given = request.GET.get("client", "")
    if not given:
        return ask(request)
    try:
        client = client_for(me(request), UUID(given))
    except ValueError as error:
        raise NotThere from error
    times = TimeForm(request.POST if request.method == "POST" else None, user=me(request), site=client.site)
    form = OpeningsForm(_asked(request), user=me(request), site=client.site)
    if request.method != "POST":
        return _new_page(request, client, form, TimeForm(user=me(request), site=client.site))
    try:
        if not form.is_valid():
            raise Refusal("invalid", "Choose a kind of visit and a day.", status=400)
        who, start = picked(request, times, client.site.zone)
        booked = book_for_recall(
            by=me(request), client=client, visit_type=queries.visit_type(form.cleaned_data["visit_type"]),
            clinician=_clinician(request, client.site, who), start=start, now=timezone.now(),
            note=request.POST.get("note", ""),
        )
    except NotThere:
        raise
    except Refusal as refusal:
        return _new_page(request, client, form, times, refusal)
    messages.success(request, f"Booked: {booked.client.name}, {said(booked)}.")
    return redirect(day_url(booked))


def _asked(request: HttpRequest) -> dict[str, str]:
    """The values of the openings form, from the address or the form sent, with the usual kind of visit filled in."""
    sent = request.POST if request.method == "POST" else request.GET
    kind = sent.get("visit_type") or next(
        (kind.code for kind in sorted(queries.visit_types(), key=lambda kind: not kind.clients_may_book)), ""
    )
    return {"visit_type": kind, "clinician": sent.get("clinician", ""), "day": sent.get("day", "")}


def _new_page(
    request: HttpRequest, client: Any, form: OpeningsForm, times: TimeForm, refusal: Refusal | None = None
) -> HttpResponse:
    recall = _recall(request, client, form)
    return render(
        request, "booking/new.html",
        {
            "client": client, "form": form, "times": times, "refusal": refusal, "zone": client.site.zone,
            "offers": _offers(request, client, form, recall), "recall": recall,
            "instead": offers_in(refusal, client.site.zone), "choices": _choices(refusal, times),
            "note": request.POST.get("note", ""),
        },
        status=refusal.status if refusal else 200,
    )


def _choices(refusal: Refusal | None, times: TimeForm) -> list[tuple[str, str]]:
    """The instants that a time in a clock change may mean, as buttons."""
    if refusal is None or "choices" not in refusal.numbers:
        return []
    who = times.cleaned_data["own_clinician"]
    return [(f"{who} {choice['start']}", choice["words"]) for choice in refusal.numbers["choices"]]


def _recall(request: HttpRequest, client: Any, form: OpeningsForm) -> recalls.Recall | None:
    """The look that a visit of the kind chosen would answer inside its window, or late."""
    if not form.is_valid() or not queries.visit_type(form.cleaned_data["visit_type"]).is_reassessment:
        return None
    return next(iter(recalls.of_client(me(request), client)), None)


def _offers(request: HttpRequest, client: Any, form: OpeningsForm, recall: recalls.Recall | None) -> list[Offer]:
    if not form.is_valid():
        return []
    asked, now = form.cleaned_data, timezone.now()
    first: date = asked["day"] or zones.day_in(now, client.site.zone)
    found = queries.openings(
        site=client.site, visit_type=queries.visit_type(asked["visit_type"]), first_day=first,
        last_day=first + timedelta(days=SHOWN_DAYS), now=now, client=client, limit=12,
        due_window=(recall.earliest, recall.latest) if recall else None,
        clinician=_clinician(request, client.site, asked["clinician"]) if asked["clinician"] else None,
    )
    return [offer_of(opening, client.site.zone) for opening in found]


@page(*STAFF, methods=("GET", "POST"))
def move(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Move a visit to an opening, or to a day and time."""
    visit = queries.appointment_for(me(request), public_id)
    times = TimeForm(request.POST if request.method == "POST" else None, user=me(request), site=visit.site)
    if request.method != "POST":
        return _move_page(request, visit, times)
    try:
        who, start = picked(request, times, visit.site.zone)
        moved = move_series(
            by=me(request), appointment=visit, start=start, now=timezone.now(),
            clinician=_clinician(request, visit.site, who), scope=request.POST.get("scope", "this"),
        )
    except NotThere:
        raise
    except Refusal as refusal:
        return _move_page(request, queries.appointment_for(me(request), public_id), times, refusal)
    done = next((each for each in moved if each.pk == visit.pk), moved[0])
    more = f" {len(moved)} visits of the series were moved." if len(moved) > 1 else ""
    messages.success(request, f"Moved: {done.client.name}, {said(done)}.{more}")
    return redirect(day_url(done))


def _move_page(request: HttpRequest, visit: Any, times: TimeForm, refusal: Refusal | None = None) -> HttpResponse:
    now, site = timezone.now(), visit.site
    first = max(zones.day_in(now, site.zone), day_from_query(request, site.zone))
    mine = queries.bookable_clinicians(me(request), site)
    found = queries.openings(
        site=site, visit_type=visit.visit_type, first_day=first, last_day=first + timedelta(days=SHOWN_DAYS), now=now,
        client=visit.client, due_window=(visit.due_earliest, visit.due_latest), limit=12, apart_from=visit,
        clinician=visit.clinician if visit.clinician in mine and len(mine) == 1 else None,
    )
    return render(
        request, "booking/move.html",
        {
            "visit": visit, "times": times, "refusal": refusal, "zone": site.zone, "first": first,
            "offers": [offer_of(opening, site.zone) for opening in found if opening.starts != visit.starts],
            "instead": offers_in(refusal, site.zone), "choices": _choices(refusal, times),
            "scopes": SeriesScope.choices if visit.series_id else [], "scope": request.POST.get("scope", "this"),
        },
        status=refusal.status if refusal else 200,
    )


def day_from_query(request: HttpRequest, zone: str) -> date:
    """`?day=`, or today at the site."""
    return day_from(request.GET.get("day", ""), zones.day_in(timezone.now(), zone))
