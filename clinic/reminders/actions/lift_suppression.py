"""Let messages go to an address again."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.reminders.models import Suppression

LONGEST = 200


@transaction.atomic
def lift_suppression(*, by: User, suppression: Suppression, why: str, now: datetime) -> Suppression:
    """The address is tried again with the next message. Refusals: `invalid` (no reason, or too long), `lifted` already."""
    why = " ".join(why.split())
    if not why or len(why) > LONGEST:
        said = f"Use {LONGEST} characters at most." if why else "Say why it will work now."
        raise Refusal("invalid", said, status=400, fields={"why": said})
    open_rows = Suppression.objects.filter(pk=suppression.pk, lifted_at__isnull=True)
    if not open_rows.update(lifted_at=now, lifted_by=by, lifted_why=why):
        raise Refusal("lifted", "Messages go to this address again already.", status=409)
    audit.record(
        by=by, verb="lift_suppression", kind="suppression", public_id=suppression.public_id, at=now,
        client=suppression.client, channel=suppression.channel,
    )
    suppression.refresh_from_db()
    return suppression
