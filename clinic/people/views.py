"""Pages of people: start, clients, episodes, signing in by link, the demo chooser."""

from __future__ import annotations

import re
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib import messages
from django.contrib.auth import login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_http_methods

from clinic.people import corrections, queries
from clinic.people.access import STAFF, me, page
from clinic.people.actions.consume_link import consume_link
from clinic.people.actions.correct_client import NAMES, correct_client
from clinic.people.actions.go_round import go_round
from clinic.people.actions.open_episode import open_episode
from clinic.people.actions.register_client import register_client
from clinic.people.actions.set_conditions import set_conditions
from clinic.people.actions.set_consent import set_consent
from clinic.people.forms import ClientForm, DetailsForm, EpisodeForm, put_refusal
from clinic.people.navigation import START
from clinic.people.paging import page_of
from clinic.people.refusal import Refusal
from clinic.people.signin import step_up
from clinic.people.vocab import Channel, ConditionCode, Role

BACKEND = "allauth.account.auth_backends.AuthenticationBackend"


@page(*STAFF, Role.CLIENT)
def start(request: HttpRequest) -> HttpResponse:
    """To the first page of one's role."""
    return redirect(START.get(me(request).role, "/account/login/"))


@page(*STAFF, methods=("POST",))
def tour(request: HttpRequest) -> HttpResponse:
    """To the next stop of the first round; leaving it stays where one is."""
    user, number = me(request), request.POST.get("stop", "")
    try:
        stop = go_round(by=user, stop=int(number) if re.fullmatch("[0-9]{1,2}", number) else -1)
    except Refusal as refused:
        messages.error(request, refused.sentence)
        return redirect(START[user.role])
    back = request.POST.get("back", "")
    here = back if url_has_allowed_host_and_scheme(back, allowed_hosts=None) else START[user.role]
    return redirect(stop.url if stop else here)


@page(*STAFF)
def clients(request: HttpRequest) -> HttpResponse:
    """Find a client by any part of a name, the phone, the birth date or the number."""
    text = request.GET.get("q", "").strip()[:80]
    rows = page_of(queries.search_clients(me(request), text), request)
    return render(request, "people/clients.html", {"page": rows, "q": text})


@page(Role.FRONT_DESK, Role.CLINICIAN, methods=("GET", "POST"))
def new_client(request: HttpRequest) -> HttpResponse:
    """Register a client."""
    sites = {str(site.pk): site for site in queries.sites_for(me(request))}
    choices = [(key, site.name) for key, site in sites.items()]
    form = ClientForm(request.POST or None, sites=choices, clinical=me(request).role == Role.CLINICIAN)
    refusal = None
    if request.method == "POST" and form.is_valid():
        values = dict(form.cleaned_data)
        site = sites[values.pop("site")]
        values["conditions"] = tuple(values.get("conditions", ()))
        try:
            client = register_client(by=me(request), site=site, now=timezone.now(), **values)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, f"{client.name} is registered. Next: open an episode.")
            return redirect("people:new_episode", public_id=client.public_id)
    return render(request, "people/new_client.html", {"form": form, "refusal": refusal}, status=400 if refusal else 200)


@page(*STAFF, methods=("GET", "POST"))
def details(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Set right who a client is and how they are reached. Who gives a client another address to sign in with says once more
    who they are."""
    person = queries.client_for(me(request), public_id)
    form = DetailsForm(request.POST or None, initial={name: getattr(person, name) for name in NAMES})
    address = form.cleaned_data["email"] if form.is_valid() else person.email
    moves_the_door = me(request).role == Role.LEAD and person.user is not None and address.strip().lower() != person.email
    return (step_up(_details) if moves_the_door else _details)(request, person, form)


def _details(request: HttpRequest, person: Any, form: DetailsForm) -> HttpResponse:
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            changed = correct_client(by=me(request), client=person, now=timezone.now(), **form.cleaned_data)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "Set right. It is noted who did it." if changed else "Nothing was different.")
            return redirect("people:client", public_id=person.public_id)
    status = 200 if request.method == "GET" else refusal.status if refusal else 400
    context = {"form": form, "refusal": refusal, "client": person}
    return render(request, "people/details.html", context, status=status)


@page(*STAFF)
def client(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """One client: contacts for everybody on the staff, clinical parts for clinicians and the lead only."""
    person = queries.client_for(me(request), public_id)
    clinical = me(request).role != Role.FRONT_DESK
    today = timezone.now().date()
    held = set(queries.open_conditions(person, today)) if clinical else set()
    context: dict[str, Any] = {
        "client": person,
        "clinical": clinical,
        "consents": [(channel.label, channel.value, queries.consents(person).get(channel, False)) for channel in Channel],
        "episodes": queries.episodes_for(me(request)).filter(client=person),
        "conditions": [code.label for code in ConditionCode if code in held],
        "condition_choices": [(code.value, code.label, code in held) for code in ConditionCode],
        "asked": corrections.open_correction_of(me(request), person),
        "sections": queries.client_sections(me(request), person),
    }
    return render(request, "people/client.html", context)


@page(Role.FRONT_DESK, Role.CLINICIAN, methods=("POST",))
def consent(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Note an answer about messages."""
    person = queries.client_for(me(request), public_id)
    granted = request.POST.get("granted") == "1"
    try:
        set_consent(
            by=me(request), client=person, channel=request.POST.get("channel", ""), granted=granted, now=timezone.now()
        )
    except Refusal as refused:
        messages.error(request, refused.sentence)
    else:
        messages.success(request, "Noted. It counts at once, for messages already waiting as well.")
    return redirect("people:client", public_id=public_id)


@page(Role.CLINICIAN, methods=("POST",))
def conditions(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Note which conditions hold from today: they raise precautions when a program is written."""
    person = queries.client_for(me(request), public_id)
    try:
        set_conditions(by=me(request), client=person, codes=request.POST.getlist("conditions"), now=timezone.now())
    except Refusal as refused:
        messages.error(request, refused.sentence)
    else:
        messages.success(request, "Noted from today. A running program is not changed by it: look whether it still fits.")
    return redirect("people:client", public_id=public_id)


@page(Role.FRONT_DESK, Role.CLINICIAN, methods=("GET", "POST"))
def new_episode(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Open an episode for a client."""
    person = queries.client_for(me(request), public_id)
    clinicians = {str(staff.public_id): staff for staff in queries.clinicians_at(person.site)}
    form = EpisodeForm(
        request.POST or None, clinicians=[(key, staff.name) for key, staff in clinicians.items()],
        initial={"lead": next((key for key, staff in clinicians.items() if staff.user_id == me(request).pk), None)},
    )
    refusal = None
    if request.method == "POST" and form.is_valid():
        now = timezone.now()
        values = {**form.cleaned_data, "lead": clinicians[form.cleaned_data["lead"]]}
        try:
            open_episode(by=me(request), client=person, opened=queries.today_of(person, now), now=now, **values)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "The episode is open. Next: book the first visit.")
            return redirect("people:client", public_id=public_id)
    context = {"form": form, "client": person, "refusal": refusal}
    return render(request, "people/new_episode.html", context, status=400 if refusal else 200)


@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def link(request: HttpRequest, token: str) -> HttpResponse:
    """A mailed sign-in link: opening it shows a button, pressing the button signs in, once."""
    if request.method != "POST":
        return render(request, "people/link.html", {})
    user = consume_link(token=token, now=timezone.now())
    if user is None:
        return render(request, "people/link.html", {"spent": True}, status=410)
    login(request, user, backend=BACKEND)
    return redirect(START.get(user.role, "/"))


link.open_methods = {"GET", "POST"}  # type: ignore[attr-defined]


@require_http_methods(["GET", "HEAD", "POST"])
def demo(request: HttpRequest) -> HttpResponse:
    """The demo's chooser: be anyone of the invented clinic. Does not exist outside the demo."""
    if not settings.DEMO:
        raise Http404
    if request.method == "POST":
        user = queries.demo_user(request.POST.get("user", ""))
        if user is None:
            raise Http404
        login(request, user, backend=BACKEND)
        return redirect(START.get(user.role, "/"))
    return render(request, "people/demo.html", {"groups": queries.demo_people()})


demo.open_methods = {"GET", "POST"}  # type: ignore[attr-defined]
