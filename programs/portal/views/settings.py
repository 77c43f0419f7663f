"""Reminders, and where the client is signed in."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.utils.translation import gettext as _

from clinic.people.access import me
from clinic.people.paging import page_of
from clinic.people.queries import consents, own_client
from clinic.people.refusal import Refusal
from clinic.reminders.queries import push_device_count, push_public_key
from programs.following.nudging import nudge_of
from programs.portal.actions.choose_reminders import choose_reminders
from programs.portal.actions.end_device import end_device
from programs.portal.actions.note_device import note_device
from programs.portal.forms_settings import RemindersForm
from programs.portal.queries.devices import my_device, my_devices
from programs.portal.views.client_page import client_page
from programs.portal.wording import put_refusal


@client_page(("GET", "POST"))
def reminders(request: HttpRequest) -> HttpResponse:
    """Channels and quiet hours; nothing ticked stops every reminder."""
    client = own_client(me(request))
    known = {"client": client, "push_key": push_public_key()}
    with_devices = bool(known["push_key"]) and push_device_count(client) > 0
    if request.method == "GET":
        held = [channel for channel, granted in consents(client).items() if granted]
        wish = nudge_of(client)
        form = RemindersForm(
            with_devices=with_devices, initial={
                "channels": held, "quiet_from": client.quiet_from, "quiet_until": client.quiet_until,
                "nudge_at": wish.at.isoformat("minutes") if wish else "",
            }
        )
        return render(request, "portal/messages.html", {**known, "form": form})
    form = RemindersForm(request.POST, with_devices=with_devices)
    if form.is_valid():
        values: dict[str, Any] = dict(form.cleaned_data)
        try:
            choose_reminders(by=me(request), now=timezone.now(), **{**values, "channels": set(values["channels"])})
        except Refusal as refusal:
            put_refusal(form, refusal)
        else:
            messages.success(request, _("Noted. It counts at once, for messages already waiting as well."))
            return redirect("portal:messages")
    return render(request, "portal/messages.html", {**known, "form": form}, status=400)


@client_page()
def devices(request: HttpRequest) -> HttpResponse:
    """Where the client is signed in; this one is marked."""
    rows = page_of(my_devices(me(request), timezone.now()), request, 10)
    return render(
        request, "portal/devices.html",
        {"client": own_client(me(request)), "page": rows, "here": request.session.session_key},
    )


@client_page(("POST",))
def end(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Sign one device out."""
    now = timezone.now()
    end_device(by=me(request), device=my_device(me(request), public_id, now), now=now)
    messages.success(request, _("That device is signed out."))
    return redirect("portal:devices")


@client_page(("POST",))
def seen(request: HttpRequest) -> HttpResponse:
    """A device says that it was used; a page does this once in a while by script."""
    note_device(
        by=me(request), session_key=request.session.session_key or "", agent=request.META.get("HTTP_USER_AGENT", ""),
        now=timezone.now(),
    )
    return HttpResponse(status=204)
