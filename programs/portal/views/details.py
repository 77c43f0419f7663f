"""What the clinic holds about who the client is, and saying that something of it is wrong."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.people.access import me
from clinic.people.actions.ask_correction import ask_correction
from clinic.people.corrections import own_corrections, own_waiting
from clinic.people.paging import page_of
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from programs.portal.forms_details import CorrectionForm
from programs.portal.views.client_page import client_page
from programs.portal.wording import put_refusal


@client_page(("GET", "POST"))
def details(request: HttpRequest) -> HttpResponse:
    """Name, birth date and addresses as they are held; what the client asked to have set right, with the answers."""
    form = CorrectionForm(request.POST or None) if request.method == "POST" else CorrectionForm()
    status = 200
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                ask_correction(by=me(request), words=form.cleaned_data["words"], now=timezone.now())
            except Refusal as refusal:
                put_refusal(form, refusal)
                status = refusal.status
            else:
                messages.success(request, _("Sent. You read the answer on this page."))
                return redirect("portal:details")
    context = {
        "client": own_client(me(request)), "form": form, "page": page_of(own_corrections(me(request)), request, 5),
        "waits": own_waiting(me(request)),
    }
    return render(request, "portal/details.html", context, status=status)
