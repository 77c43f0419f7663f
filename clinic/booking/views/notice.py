"""The page on which the lead says how much notice clients give."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone

from clinic.booking.actions.set_notice import set_notice
from clinic.booking.forms import NoticeForm
from clinic.people.access import me, page
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role


@page(Role.LEAD, methods=("GET", "POST"))
def notice(request: HttpRequest) -> HttpResponse:
    """The notice of a site (`?site=`), and setting it."""
    sites = list(sites_for(me(request)))
    if not sites:
        raise NotThere
    site = next((site for site in sites if site.name == request.GET.get("site")), sites[0])
    form = NoticeForm(request.POST if request.method == "POST" else None, initial={"hours": site.notice_hours})
    if form.is_valid():
        set_notice(by=me(request), site=site, hours=form.cleaned_data["hours"], now=timezone.now())
        messages.success(request, "The notice is changed. It holds from now on, for visits that are booked already as well.")
        return redirect(request.get_full_path())
    status = 400 if request.method == "POST" else 200
    return render(request, "booking/notice.html", {"form": form, "site": site, "sites": sites}, status=status)
