"""Set how long before a visit clients move or cancel it themselves."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.booking.rules.notice import MOST_HOURS
from clinic.people import audit
from clinic.people.models import Site, User
from clinic.people.refusal import Refusal


@transaction.atomic
def set_notice(*, by: User, site: Site, hours: int, now: datetime) -> Site:
    """0: until it begins. Refusal `invalid` (400) unless it is 0 to 168 hours."""
    if not 0 <= hours <= MOST_HOURS:
        sentence = f"Choose 0 to {MOST_HOURS} hours."
        raise Refusal("invalid", sentence, status=400, fields={"hours": sentence})
    row = Site.objects.select_for_update().get(pk=site.pk)
    was, row.notice_hours = row.notice_hours, hours
    row.save(update_fields=["notice_hours"])
    audit.record(by=by, verb="set_notice", kind="site", public_id=row.pk, at=now, client=None, was=was, hours=hours)
    return row
