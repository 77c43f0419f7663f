"""The page of closed days and extra hours."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any
from uuid import UUID

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils import dateformat, timezone

from clinic.booking import queries
from clinic.booking.actions.add_extra_hours import add_extra_hours
from clinic.booking.actions.close_days import close_days
from clinic.booking.actions.remove_special_hours import remove_special_hours
from clinic.booking.forms import ClosedDayForm, ExtraHoursForm, HolidaysForm
from clinic.booking.localtime import start_of
from clinic.booking.rules.closing import public_holidays
from clinic.people.access import me, page
from clinic.people.paging import page_of
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role

MAY = (Role.FRONT_DESK, Role.LEAD)


@page(*MAY, methods=("GET", "POST"))
def closing(request: HttpRequest) -> HttpResponse:
    """Closed days and extra hours of a site (`?site=`). POST `do`: close, holidays, extra."""
    sites = list(sites_for(me(request)))
    if not sites:
        raise NotThere
    site = next((site for site in sites if site.name == request.GET.get("site")), sites[0])
    today, do = zones.day_in(timezone.now(), site.zone), request.POST.get("do", "")
    forms: dict[str, Any] = {
        "close": ClosedDayForm(request.POST if request.POST and do not in ("holidays", "extra") else None),
        "holidays": HolidaysForm(request.POST if do == "holidays" else None, site=site, today=today),
        "extra": ExtraHoursForm(request.POST if do == "extra" else None, user=me(request), site=site),
    }
    form, refusal = forms.get(do), None
    if form is not None and form.is_valid():
        try:
            messages.success(request, _do(request, do, form.cleaned_data, site))
            return redirect(request.get_full_path())
        except NotThere:
            raise
        except Refusal as refused:
            refusal = refused
    status = refusal.status if refusal else 400 if request.method == "POST" else 200
    rows = page_of(queries.special_hours(site, timezone.now()), request)
    return render(
        request, "booking/closing.html", {"page": rows, "site": site, "forms": forms, "refusal": refusal}, status=status
    )


def _do(request: HttpRequest, do: str, asked: dict[str, Any], site: Any) -> str:
    now = timezone.now()
    if do == "close":
        close_days(by=me(request), site=site, days=[(asked["day"], asked["name"])], now=now)
        return f"Closed on {dateformat.format(asked['day'], 'l j F Y')}."
    if do == "holidays":
        today = zones.day_in(now, site.zone)
        try:
            found = public_holidays(site.region_code, asked["part"], asked["year"])
        except ValueError as error:
            raise Refusal("invalid", "No public holidays are known for that place.", status=400) from error
        coming = [(day, name[:80]) for day, name in found if day >= today]
        closed, left = close_days(by=me(request), site=site, days=coming, now=now) if coming else (0, [])
        words = f"{closed} public holidays are closed days now."
        busy = ", ".join(dateformat.format(day, "j F") for day, _ in left)
        return f"{words} Left open, because visits are booked: {busy}." if left else words
    who = queries.bookable_clinician(me(request), site, asked["clinician"])
    starts, ends = (start_of(asked["day"], asked[name], site.zone) for name in ("starts", "ends"))
    add_extra_hours(by=me(request), site=site, clinician=who, starts=_utc(starts), ends=_utc(ends), now=now)
    return f"{who.name} has extra hours on {dateformat.format(asked['day'], 'l j F')}."


def _utc(at: datetime) -> datetime:
    return at.astimezone(UTC)


@page(*MAY, methods=("POST",))
def remove(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """Open a closed day again, or take extra hours back."""
    row = queries.special_hours_for(me(request), public_id)
    try:
        remove_special_hours(by=me(request), row=row, now=timezone.now())
    except Refusal as refusal:
        messages.error(request, refusal.sentence)
    else:
        messages.success(request, "Taken off the list.")
    return redirect("booking:closing")
