"""Today: what is asked of the client."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from clinic.people.access import me
from programs.portal.queries.own import acceptable_pain
from programs.portal.queries.today import today_of
from programs.portal.views.client_page import client_page


@client_page()
def today(request: HttpRequest) -> HttpResponse:
    """The day's ask for the program chosen by `?program=`, or the client's first."""
    shown = today_of(me(request), timezone.now(), request.GET.get("program"))
    context = {"today": shown, "client": shown.client, "acceptable": acceptable_pain()}
    return render(request, "portal/today.html", context)
