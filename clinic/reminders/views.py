"""Pages of reminders: what went out and what did not, the demo's post box, and how the background work is doing."""

from __future__ import annotations

import hmac
from collections.abc import Callable
from functools import wraps
from uuid import UUID

from django.conf import settings
from django.contrib import messages as notices
from django.db import DatabaseError
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from clinic.reminders import gauges, queries, words
from clinic.reminders.actions.check_mail import check_mail
from clinic.reminders.actions.hold_messages import hold_messages
from clinic.reminders.actions.lift_suppression import lift_suppression
from clinic.reminders.actions.release_messages import release_messages
from clinic.reminders.actions.retry_message import retry_message
from clinic.reminders.kinds import all_kinds
from clinic.reminders.preview import preview_of
from clinic.reminders.rules.exposition import CONTENT_TYPE, exposition
from clinic.reminders.vocab import HoldReason

View = Callable[..., HttpResponse]
OFFICE = (Role.FRONT_DESK, Role.LEAD)


def reading_for_all(view: View) -> View:
    """Open to any visitor, for reading only."""

    @wraps(view)
    def guarded(request: HttpRequest) -> HttpResponse:
        if request.method not in {"GET", "HEAD"}:
            return HttpResponseNotAllowed(["GET", "HEAD"])
        return view(request)

    guarded.open_methods = {"GET"}   # type: ignore[attr-defined]
    return guarded


@page(*OFFICE)
def message_list(request: HttpRequest) -> HttpResponse:
    """What was sent, what was not and why."""
    now, attention = timezone.now(), request.GET.get("show") == "attention"
    shown = page_of(queries.messages_for(me(request), needing_a_person=attention), request)
    lines = [words.line(message, now) for message in shown]
    return render(
        request,
        "reminders/messages.html",
        {
            "page": shown, "lines": lines, "attention": attention, "zone": queries.zone_for(me(request)),
            "held": queries.held(),
            "dead": queries.suppressions_for(me(request)).count(),
        },
    )


@page(*OFFICE, methods=("POST",))
def message_retry(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Send a failed message again."""
    try:
        retry_message(by=me(request), message=queries.message_for(me(request), public_id), now=timezone.now())
        notices.success(request, "The message waits to be sent again.")
    except NotThere:
        raise
    except Refusal as refusal:
        notices.error(request, refusal.sentence)
    return redirect("reminders:messages")


@page(*OFFICE, methods=("POST",))
def mail_check(request: HttpRequest) -> HttpResponse:
    """Send oneself a test message."""
    try:
        check_mail(by=me(request), now=timezone.now())
        notices.success(request, "A test message to you waits to be sent.")
    except NotThere:
        raise
    except Refusal as refusal:
        notices.error(request, refusal.sentence)
    return redirect("reminders:messages")


@page(*OFFICE)
def addresses(request: HttpRequest) -> HttpResponse:
    """Addresses that do not exist, as a server or gateway said."""
    return _addresses(request, {}, 200)


@page(*OFFICE, methods=("POST",))
def lift(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Let messages go to an address again, with a reason; what was typed stays when it cannot be used."""
    suppression, why = queries.suppression_for(me(request), public_id), request.POST.get("why", "")
    try:
        lift_suppression(by=me(request), suppression=suppression, why=why, now=timezone.now())
    except Refusal as refusal:
        return _addresses(request, {"id": public_id, "sentence": refusal.sentence, "why": why}, refusal.status)
    notices.success(request, "The next message goes to this address again.")
    return redirect("reminders:addresses")


def _addresses(request: HttpRequest, wrong: dict[str, object], status: int) -> HttpResponse:
    shown = page_of(queries.suppressions_for(me(request)), request)
    values = {"page": shown, "zone": queries.zone_for(me(request)), "wrong": wrong}
    return render(request, "reminders/addresses.html", values, status=status)


@page(*OFFICE)
def wordings(request: HttpRequest) -> HttpResponse:
    """What every message says, in each language, with invented values."""
    shown = page_of(all_kinds(), request, size=8)
    site = queries.first_site(me(request))
    previews = [preview_of(kind, site) for kind in shown]
    return render(request, "reminders/wordings.html", {"page": shown, "previews": previews})


@page(Role.LEAD, methods=("POST",))
def hold(request: HttpRequest) -> HttpResponse:
    """Let no message leave until somebody says so."""
    hold_messages(by=me(request), why=HoldReason.BY_HAND, now=timezone.now())
    notices.success(request, "No message leaves until you let them go again. New ones wait.")
    return redirect("reminders:messages")


@page(Role.LEAD, methods=("POST",))
def release(request: HttpRequest) -> HttpResponse:
    """Let messages leave again."""
    try:
        release_messages(by=me(request), now=timezone.now())
        notices.success(request, "Messages leave again. What came too late meanwhile is left out.")
    except Refusal as refusal:
        notices.error(request, refusal.sentence)
    return redirect("reminders:messages")


@reading_for_all
def inbox(request: HttpRequest) -> HttpResponse:
    """Everybody's post box in the demo, where no mail leaves the machine."""
    if not settings.DEMO:
        raise Http404
    return render(request, "reminders/inbox.html", {"page": page_of(queries.inbox(), request, size=10)})


@reading_for_all
def live(request: HttpRequest) -> HttpResponse:
    """Whether this process answers at all."""
    return _status({"live": True}, 200)


@reading_for_all
def ready(request: HttpRequest) -> HttpResponse:
    """Whether the database and Redis answer and messages are being delivered; 503 when not, and each part by name."""
    try:
        state = queries.health(timezone.now())
    except DatabaseError:
        return _status({"ready": False, "database": "down"}, 503)
    return _status({"ready": state.ready, "database": "ok", **state.parts()}, 200 if state.ready else 503)


@reading_for_all
def metrics(request: HttpRequest) -> HttpResponse:
    """Counts and ages for a monitoring system that sends the token; without one, or with another, no such page."""
    sent, expected = request.headers.get("Authorization", ""), f"Bearer {settings.METRICS_TOKEN}"
    if not settings.METRICS_TOKEN or not hmac.compare_digest(sent.encode(), expected.encode()):
        raise Http404
    body = exposition(gauges.all_gauges(timezone.now()))
    return HttpResponse(body, content_type=CONTENT_TYPE, headers={"Cache-Control": "no-store"})


def _status(body: dict[str, object], status: int) -> HttpResponse:
    return JsonResponse(body, status=status, headers={"Cache-Control": "no-store"})
