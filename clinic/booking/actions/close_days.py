"""Close a site on some days: a day of its own, or the public holidays of a year."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

from django.db import transaction

from clinic.booking import inside
from clinic.booking.models import Appointment, SpecialHours
from clinic.booking.queries import UPCOMING
from clinic.people import audit
from clinic.people.models import Site, User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones


@transaction.atomic
def close_days(
    *, by: User, site: Site, days: Sequence[tuple[date, str]], now: datetime
) -> tuple[int, list[tuple[date, int]]]:
    """Close each (day, name); one that is closed already stays as it is. Returns how many were closed, and the days
    that were left open because visits are booked on them, with how many.

    Refusal `invalid` (400) for a day that is over or a name that is too long; `visits_inside` (409) with visits= when
    there is one day only and visits are booked on it.
    """
    today = zones.day_in(now, site.zone)
    if any(day < today for day, _ in days):
        raise Refusal("invalid", "That day is over.", status=400, fields={"day": "Choose a day that is still to come."})
    if any(not name.strip() or len(name) > 80 or "\x00" in name for _, name in days):
        raise Refusal("invalid", "Say why.", status=400, fields={"name": "Say why, in 80 characters at most."})
    closed, left, found = 0, [], []
    for day, name in days:
        begin, end = zones.day_bounds(day, site.zone)
        rows = Appointment.objects.filter(site=site, status__in=UPCOMING, starts__lt=end, ends__gt=begin)
        found = list(rows.select_related("site"))
        if found:
            left.append((day, len(found)))
            continue
        values = {"ends": end, "name": name.strip()}
        row, made = SpecialHours.objects.get_or_create(site=site, starts=begin, is_open=False, defaults=values)
        closed += made
        if made:
            audit.record(
                by=by, verb="close_day", kind="special_hours", public_id=row.public_id, at=now, client=None,
                day=day.isoformat(),
            )
    if left and len(days) == 1:
        raise inside.refuse(found, "on that day", "Move or cancel first, then close.")
    return closed, left
