"""Pages for days on which somebody is away: the proposal for the visits displaced, and what becomes of each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking import away as reads
from clinic.booking import queries, wording
from clinic.booking.actions.ask_move import ask_move
from clinic.booking.actions.confirm_move import confirm_move
from clinic.booking.actions.edit_move import edit_move
from clinic.booking.actions.plan_away import plan_away
from clinic.booking.actions.withdraw_away import withdraw_away
from clinic.booking.forms import EVERYBODY, AwayForm, TimeForm
from clinic.booking.offering import Offer, offer_of, offers_in
from clinic.booking.views.finding import picked
from clinic.booking.vocab import UNSETTLED, MoveState
from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role

DESK = (Role.FRONT_DESK, Role.LEAD)
SEARCHED_DAYS = 28
ROWS = 60


@dataclass(frozen=True)
class Line:
    """One displaced visit: as it is, and as proposed. `refusal` is of the last attempt, with openings to take instead."""

    move: Any
    shape: str
    why: str
    open: bool
    refusal: Refusal | None = None
    instead: tuple[Offer, ...] = ()


@page(*DESK, methods=("GET", "POST"))
def days(request: HttpRequest) -> HttpResponse:
    """Days away so far. POST works out a proposal for new ones."""
    sites = list(sites_for(me(request)))
    site = next((each for each in sites if each.name == request.POST.get("site", request.GET.get("site"))), None)
    if site is None and not sites:
        raise NotThere
    site = site or sites[0]
    form = AwayForm(request.POST if request.method == "POST" else None, user=me(request), site=site)
    refusal = None
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        try:
            found = plan_away(
                by=me(request), site=site, first_day=given["first_day"], last_day=given["last_day"],
                clinician=None if given["clinician"] == EVERYBODY
                else queries.bookable_clinician(me(request), site, given["clinician"]),
                anyone=given["anyone"], now=timezone.now(),
            )
        except NotThere:
            raise
        except Refusal as caught:
            refusal = caught
            for name, sentence in caught.fields.items():
                form.add_error(name, sentence)
        else:
            return redirect("booking:proposal", found.public_id)
    return render(
        request, "booking/away.html",
        {
            "form": form, "site": site, "sites": sites, "page": page_of(reads.aways_for(me(request)), request),
            "today": zones.day_in(timezone.now(), site.zone),
        },
        status=refusal.status if refusal else 400 if form.errors else 200,
    )


@page(*DESK, methods=("GET", "POST"))
def proposal(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The proposal beside the book as it is. POST `do`: ask or confirm the moves chosen, or withdraw the whole."""
    away = reads.away_for(me(request), public_id)
    if request.method != "POST":
        return _proposal_page(request, away, {})
    now = timezone.now()
    if request.POST.get("do") == "withdraw":
        withdraw_away(by=me(request), away=away, now=now)
        messages.success(request, "The days are open again. Visits that had been moved stay where they are.")
        return redirect("booking:away")
    chosen = _chosen(request, away)
    if request.POST.get("do") not in ("ask", "confirm") or not chosen:
        return _proposal_page(request, away, {}, "Choose at least one visit first.", 400)
    refused = _carry_out(request, chosen, request.POST["do"] == "confirm")
    done = len(chosen) - len(refused)
    words = "moved" if request.POST["do"] == "confirm" else "asked"
    if done:
        messages.success(request, f"{done} visit{'' if done == 1 else 's'} {words}.")
    if refused:
        return _proposal_page(request, away, refused, f"{len(refused)} could not be {words}: see below.", 409)
    return redirect("booking:proposal", away.public_id)


def _chosen(request: HttpRequest, away: Any) -> list[Any]:
    """The rows ticked, or the one whose own button was pressed."""
    given = request.POST.getlist("move")
    rows = reads.moves_for(me(request)).filter(away=away, state__in=UNSETTLED)
    return [row for row in rows if str(row.public_id) in given]


def _carry_out(request: HttpRequest, chosen: list[Any], confirming: bool) -> dict[Any, Refusal]:
    """Each in a transaction of its own; those in the way of one another get a second turn. The refusals by key."""
    action, waiting = confirm_move if confirming else ask_move, chosen
    for _ in range(2):
        refused: dict[Any, Refusal] = {}
        for move in waiting:
            try:
                action(by=me(request), move=move, now=timezone.now())
            except Refusal as refusal:
                refused[move.pk] = refusal
        if not refused or len(refused) == len(waiting):
            break
        waiting = [move for move in waiting if move.pk in refused]
    return refused


def _proposal_page(
    request: HttpRequest, away: Any, refused: dict[Any, Refusal], problem: str = "", status: int = 200
) -> HttpResponse:
    shown = page_of(reads.moves_for(me(request)).filter(away=away), request, ROWS)
    zone = away.site.zone
    lines = [
        Line(
            move, wording.MOVE_SHAPES[MoveState(move.state)],
            wording.WHY_NOT.get(move.why_not, "") or wording.move_reasons_in_words(move.reasons),
            move.state in UNSETTLED and away.withdrawn_at is None, refused.get(move.pk),
            tuple(offers_in(refused.get(move.pk), zone)),
        )
        for move in shown
    ]
    return render(
        request, "booking/proposal.html",
        {
            "away": away, "lines": lines, "page": shown, "zone": zone, "problem": problem,
            "any_open": any(line.open and line.move.starts for line in lines),
            "proven": away.cost == away.bound, "off": round(100 * (away.cost - away.bound) / max(away.bound, 1), 1),
        },
        status=status,
    )


@page(*DESK, methods=("GET", "POST"))
def row(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Another time for one displaced visit (POST `opening`, or a day and time), or POST `leave` it to the desk."""
    move = reads.move_for(me(request), public_id)
    times = TimeForm(request.POST if request.method == "POST" else None, user=me(request), site=move.away.site)
    if request.method != "POST":
        return _row_page(request, move, times)
    try:
        if "leave" in request.POST:
            edit_move(by=me(request), move=move, now=timezone.now())
        else:
            who, start = picked(request, times, move.away.site.zone)
            edit_move(
                by=me(request), move=move, start=start, now=timezone.now(),
                clinician=queries.bookable_clinician(me(request), move.away.site, UUID(who)),
            )
    except NotThere:
        raise
    except ValueError as error:
        raise NotThere from error
    except Refusal as refusal:
        return _row_page(request, move, times, refusal)
    return redirect("booking:proposal", move.away.public_id)


def _row_page(request: HttpRequest, move: Any, times: TimeForm, refusal: Refusal | None = None) -> HttpResponse:
    now, site, visit = timezone.now(), move.away.site, move.appointment
    first = max(zones.day_in(now, site.zone), move.away.first_day - timedelta(days=7))
    found = queries.openings(
        site=site, visit_type=visit.visit_type, first_day=first, last_day=first + timedelta(days=SEARCHED_DAYS), now=now,
        client=visit.client, due_window=(visit.due_earliest, visit.due_latest), limit=16, apart_from=visit,
    )
    return render(
        request, "booking/proposed_move.html",
        {
            "move": move, "visit": visit, "times": times, "refusal": refusal, "zone": site.zone,
            "offers": [offer_of(opening, site.zone) for opening in found],
            "instead": offers_in(refusal, site.zone),
        },
        status=refusal.status if refusal else 200,
    )
