"""Passkeys: signing in with the phone's own lock (W3C Web Authentication), in the client's language."""

from __future__ import annotations

from allauth.mfa.models import Authenticator
from allauth.mfa.webauthn.forms import AddWebAuthnForm
from allauth.mfa.webauthn.internal import flows
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from clinic.people.access import me
from clinic.people.paging import page_of
from clinic.people.queries import own_client
from programs.portal.views.client_page import client_page


def _own(request: HttpRequest):   # type: ignore[no-untyped-def]   # the library's rows carry no types
    return Authenticator.objects.filter(user=me(request), type=Authenticator.Type.WEBAUTHN).order_by("-pk")


@client_page(("GET", "POST"))
def passkeys(request: HttpRequest) -> HttpResponse:
    """Own passkeys; POST adds the one that the phone has just made."""
    form = AddWebAuthnForm(request.POST if request.method == "POST" else None, user=me(request))
    if request.method == "POST" and form.is_valid():
        flows.add_authenticator(request, name=form.cleaned_data["name"], credential=form.cleaned_data["credential"])
        return redirect("portal:passkeys")
    context = {
        "client": own_client(me(request)), "page": page_of(_own(request), request, 10), "refused": request.method == "POST",
        "js_data": {"creation_options": flows.begin_registration(request, me(request), True)},
    }
    return render(request, "portal/passkeys.html", context, status=400 if request.method == "POST" else 200)


@client_page(("POST",))
def remove(request: HttpRequest, key: int) -> HttpResponse:
    """Forget one of one's own."""
    held = _own(request).filter(pk=key).first()
    if held is None:
        raise Http404
    flows.remove_authenticator(request, held)
    return redirect("portal:passkeys")
