"""End an opening before its time."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.trust.models import Opening


@transaction.atomic
def close_record(*, by: User, opening: Opening, now: datetime) -> Opening:
    """By the clinician who opened it or by a lead. Refusal: `over`."""
    row = Opening.objects.select_for_update(of=("self",)).get(pk=opening.pk)
    if row.ends <= now:
        raise Refusal("over", "This opening is over already.", status=409)
    row.ends = max(now, row.begins)
    row.save(update_fields=["ends"])
    audit.record(by=by, verb="close_record", kind="opening", public_id=row.public_id, at=now, client=row.client)
    return row
