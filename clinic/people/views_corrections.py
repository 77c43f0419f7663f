"""Pages of what clients ask to have set right."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.people.access import STAFF, me, page
from clinic.people.actions.answer_correction import answer_correction
from clinic.people.corrections import correction_for, open_corrections
from clinic.people.forms import AnswerForm, put_refusal
from clinic.people.paging import page_of
from clinic.people.queries import sites_for
from clinic.people.refusal import Refusal


@page(*STAFF)
def corrections(request: HttpRequest) -> HttpResponse:
    """What clients ask to have set right and nobody has answered, the oldest first."""
    site = sites_for(me(request)).first()
    rows = page_of(open_corrections(me(request)), request)
    return render(request, "people/corrections.html", {"page": rows, "zone": site.zone if site else "UTC"})


@page(*STAFF, methods=("GET", "POST"))
def correction(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """One of them: what the client wrote beside what is held, and the answer."""
    asked = correction_for(me(request), public_id)
    form = AnswerForm(request.POST or None)
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            answer_correction(by=me(request), correction=asked, now=timezone.now(), **form.cleaned_data)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "Answered. The client reads it in the portal.")
            return redirect("people:client", public_id=asked.client.public_id)
    status = 200 if request.method == "GET" else refusal.status if refusal else 400
    context = {"asked": asked, "client": asked.client, "form": form, "refusal": refusal}
    return render(request, "people/correction.html", context, status=status)
