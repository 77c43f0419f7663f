"""Other programs that may read and write in a client's name: the client's page, and the lead's."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.queries import own_client, sites_for
from clinic.people.refusal import Refusal
from clinic.people.vocab import Role
from programs.portal.actions.answer_own_portal import answer_own_portal
from programs.portal.actions.end_token import end_token
from programs.portal.actions.make_token import make_token
from programs.portal.forms_tokens import SiteTokenForm, TokenForm
from programs.portal.queries.tokens import asking_token_for, asking_tokens, own_tokens, site_tokens, token_for
from programs.portal.views.client_page import client_page
from programs.portal.wording import put_refusal


@client_page(("GET", "POST"))
def tokens(request: HttpRequest) -> HttpResponse:
    """Own tokens, and the clinic's own portals that ask; a new secret is shown in the answer to its making only."""
    now, secret, made = timezone.now(), "", None
    form = TokenForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        values = {**form.cleaned_data, "scopes": set(form.cleaned_data["scopes"])}
        try:
            made, secret = make_token(by=me(request), now=now, **values)
        except Refusal as refusal:
            put_refusal(form, refusal)
        else:
            form = TokenForm()
    context = {
        "client": own_client(me(request)), "form": form, "secret": secret, "made": made,
        "page": page_of(own_tokens(me(request), now), request, 10), "asking": asking_tokens(me(request), now)[:10],
    }
    return render(request, "portal/tokens.html", context, status=400 if form.errors else 200)


@client_page(("POST",))
def end(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """End one of one's own."""
    now = timezone.now()
    end_token(by=me(request), token=token_for(me(request), public_id, now), now=now)
    messages.success(request, _("It has ended. Its next try is refused."))
    return redirect("portal:tokens")


@client_page(("POST",))
def answer(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Let the clinic's own portal act, or take it back."""
    now, agreed = timezone.now(), request.POST.get("agreed") == "1"
    answer_own_portal(by=me(request), token=asking_token_for(me(request), public_id, now), agreed=agreed, now=now)
    messages.success(request, _("Thank you. It may from now on.") if agreed else _("Taken back. Its next try is refused."))
    return redirect("portal:tokens")


@page(Role.LEAD, methods=("GET", "POST"))
def site_access(request: HttpRequest) -> HttpResponse:
    """Tokens of the clinic's own portals: made, listed and ended by the lead. Each client agrees by themselves."""
    now, secret, made = timezone.now(), "", None
    sites = {str(site.pk): site for site in sites_for(me(request))}
    choices = [(key, site.name) for key, site in sites.items()]
    form = SiteTokenForm(request.POST if request.method == "POST" else None, sites=choices)
    if request.method == "POST" and form.is_valid():
        values = {**form.cleaned_data, "scopes": set(form.cleaned_data["scopes"])}
        try:
            made, secret = make_token(by=me(request), now=now, **{**values, "site": sites[values["site"]]})
        except Refusal as refusal:
            put_refusal(form, refusal)
        else:
            form = SiteTokenForm(sites=choices)
    context = {
        "form": form, "secret": secret, "made": made, "now": now, "page": page_of(site_tokens(me(request)), request, 20),
    }
    return render(request, "portal/staff/site_access.html", context, status=400 if form.errors else 200)


@page(Role.LEAD, methods=("POST",))
def end_site_access(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """End a token of the clinic's own portal, for everybody at once."""
    now = timezone.now()
    end_token(by=me(request), token=token_for(me(request), public_id, now), now=now)
    messages.success(request, "It has ended. Its next request is refused.")
    return redirect("portal:site_access")
