"""Give a clinician hours beside the usual ones."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.booking.models import SpecialHours
from clinic.booking.rules import grid as g
from clinic.people import audit
from clinic.people.models import Site, Staff, User
from clinic.people.refusal import Refusal


@transaction.atomic
def add_extra_hours(
    *, by: User, site: Site, clinician: Staff, starts: datetime, ends: datetime, now: datetime
) -> SpecialHours:
    """They count as open, on closed days as well. Refusal `invalid` (400) unless they are whole ticks, at most a day,
    in order and still to come."""
    wrong: dict[str, str] = {}
    if not g.on_grid(starts) or not g.on_grid(ends):
        wrong["starts"] = "Hours begin and end on a full five minutes."
    elif ends <= starts or (ends - starts).total_seconds() > 86400:
        wrong["ends"] = "Choose an end after the beginning."
    elif ends <= now:
        wrong["day"] = "That time is already over."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    row = SpecialHours.objects.create(site=site, clinician=clinician, is_open=True, starts=starts, ends=ends)
    audit.record(
        by=by, verb="add_extra_hours", kind="special_hours", public_id=row.public_id, at=now, client=None,
        starts=starts.isoformat(), ends=ends.isoformat(),
    )
    return row
