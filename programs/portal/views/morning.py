"""The morning after a session: one question."""

from __future__ import annotations

import uuid

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.people.access import me
from clinic.people.refusal import NotThere, Refusal
from programs.following.actions.answer_morning import answer_morning
from programs.portal.forms import MorningForm
from programs.portal.queries.today import today_of
from programs.portal.views.client_page import client_page
from programs.portal.wording import put_refusal


@client_page(("GET", "POST"))
def morning(request: HttpRequest) -> HttpResponse:
    """Pain this morning, for the day of the session it follows."""
    now = timezone.now()
    today = today_of(me(request), now, request.GET.get("program"))
    if request.method == "GET":
        form = MorningForm(initial={"answer_id": uuid.uuid4(), "day": today.morning})
        return render(request, "portal/morning.html", {"today": today, "client": today.client, "form": form})
    if today.program is None:
        raise NotThere
    form = MorningForm(request.POST)
    if form.is_valid():
        try:
            answer_morning(by=me(request), program=today.program, now=now, **form.cleaned_data)
        except Refusal as refusal:
            put_refusal(form, refusal)
        else:
            messages.success(request, _("Thank you. Your clinician can see it."))
            return redirect("portal:today")
    return render(request, "portal/morning.html", {"today": today, "client": today.client, "form": form}, status=400)
