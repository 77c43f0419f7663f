"""The way out: red flags, and the screen that says stop."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people.access import me
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from programs.following.actions.raise_alert import raise_alert
from programs.portal.forms import RED_FLAGS, FlagForm
from programs.portal.views.client_page import client_page


@client_page(("GET", "POST"))
def help_page(request: HttpRequest) -> HttpResponse:
    """Each question is one tap. Whatever goes wrong with the record, the answer to a tap is the stop screen."""
    client = own_client(me(request))
    if request.method == "GET":
        flags = [(flag, words, uuid.uuid4()) for flag, words in RED_FLAGS]
        return render(request, "portal/help.html", {"client": client, "flags": flags})
    form = FlagForm(request.POST)
    if form.is_valid():
        try:
            raise_alert(by=me(request), client=client, now=timezone.now(), **form.cleaned_data)
            return redirect("portal:stop")
        except Refusal:
            pass   # a person in danger is never shown a form error
    return render(request, "portal/stop.html", {"client": client, "told": False}, status=400)


@client_page()
def stop(request: HttpRequest) -> HttpResponse:
    """Stop, whom to call, and what happens next."""
    return render(request, "portal/stop.html", {"client": own_client(me(request)), "told": True})
