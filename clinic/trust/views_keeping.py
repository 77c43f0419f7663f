"""Pages of how long records are kept: the settings, records that were put away, and why one stays."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from clinic.people.access import me, page
from clinic.people.forms import put_refusal
from clinic.people.paging import page_of
from clinic.people.queries import client_for, sites_for
from clinic.people.refusal import Refusal
from clinic.people.signin import step_up_to_write
from clinic.people.vocab import Role
from clinic.trust import keeping
from clinic.trust.actions.bring_back import bring_back
from clinic.trust.actions.put_away import put_away
from clinic.trust.actions.set_keep import set_keep
from clinic.trust.actions.set_retention import set_retention
from clinic.trust.forms import KeepForm, RetentionForm
from clinic.trust.rules.keeping import LIMITS

WORDS = {
    "records": "Records", "messages": "Messages", "links": "Sign-in links", "keys": "Answers for requests sent twice",
    "sessions": "Sessions, all sites", "post box": "Mail in the post box, all sites",
}


@page(Role.LEAD, methods=("GET", "POST"))
@step_up_to_write
def retention(request: HttpRequest) -> HttpResponse:
    """How long one of the lead's sites (`?site=`) keeps what, and how much is kept no more today."""
    now, site = timezone.now(), keeping.site_for(me(request), request.GET.get("site", ""))
    held = keeping.settings_of(site)
    form = RetentionForm(request.POST or None, initial={name: getattr(held, name, None) for name in LIMITS})
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            set_retention(by=me(request), site=site, given=form.cleaned_data, now=now)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "Written down. Nothing has gone yet: below stands how much is kept no more.")
            return redirect(f"{reverse('trust:retention')}?site={site.pk}")
    wrong = request.method == "POST"
    context = {
        "form": form, "refusal": refusal, "site": site, "sites": sites_for(me(request))[:100], "held": held,
        "due": [
            (WORDS[kind], number)
            for kind, number in keeping.counts([*keeping.due_of(site, now), *keeping.due_everywhere(now)])
        ],
    }
    return render(request, "trust/retention.html", context, status=400 if wrong else 200)


@page(Role.LEAD)
def away(request: HttpRequest) -> HttpResponse:
    """Records that were put away, the oldest first."""
    return render(request, "trust/away.html", {"page": page_of(keeping.put_away(me(request)), request)})


@page(Role.LEAD, methods=("POST",))
def move_away(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Put a record away, or bring it back."""
    client, now = client_for(me(request), public_id), timezone.now()
    back = request.POST.get("back") == "1"
    try:
        (bring_back if back else put_away)(by=me(request), client=client, now=now)
    except Refusal as refused:
        messages.error(request, refused.sentence)
    else:
        messages.success(request, "The record is back." if back else "The record is put away. Its episodes have ended.")
    return redirect("people:client", public_id=public_id)


@page(Role.LEAD, methods=("GET", "POST"))
@step_up_to_write
def keep(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Why a record stays whatever the settings say."""
    client = client_for(me(request), public_id)
    form = KeepForm(request.POST if request.method == "POST" else None, initial={"why": client.keep})
    refusal = None
    if request.method == "POST" and form.is_valid():
        try:
            set_keep(by=me(request), client=client, now=timezone.now(), **form.cleaned_data)
        except Refusal as refused:
            refusal = refused
            put_refusal(form, refused.fields)
        else:
            messages.success(request, "Written down.")
            return redirect("people:client", public_id=public_id)
    context = {"client": client, "form": form, "refusal": refusal}
    return render(request, "trust/keep.html", context, status=400 if request.method == "POST" else 200)
