"""Open the record of a client who is not on one's caseload."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.conf import settings
from django.db import transaction

from clinic.people import audit
from clinic.people.models import Staff, User
from clinic.people.queries import clients_for, staff_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from clinic.reminders.actions.queue_message import queue_message
from clinic.trust.models import Opening
from clinic.trust.queries import client_named

LEAST_REASON = 15   # letters; a word or two is no reason
MOST_REASON = 300
USEFUL = timedelta(days=3)   # how long it is worth telling the lead


@transaction.atomic
def open_record(*, by: User, name: str, born: date, reason: str, now: datetime) -> Opening:
    """Open the record for OPENING_HOURS, note the reason, and tell every lead of the site.

    Refusals: `reason_short`, `reason_long`, `no_such_client` (also when several match), `already_yours`.
    """
    if by.role != Role.CLINICIAN:
        raise NotThere
    reason = " ".join(reason.split())
    if len(reason) < LEAST_REASON:
        raise Refusal(
            "reason_short", "Write why you need this record.", status=400,
            fields={"reason": f"Write at least {LEAST_REASON} letters: the lead will read them."},
        )
    if len(reason) > MOST_REASON:
        raise Refusal(
            "reason_long", "The reason is too long.", status=400, fields={"reason": f"At most {MOST_REASON} letters."}
        )
    client = client_named(by, name, born)
    if client is None:
        raise Refusal(
            "no_such_client", "No client of your sites has exactly this name and birth date.", status=400,
            fields={"name": "Write the full name as it is registered, and the birth date."},
        )
    if clients_for(by).filter(pk=client.pk).exists():
        raise Refusal("already_yours", "You can see this client's record already.", status=409)
    opening = Opening.objects.create(
        clinician=staff_for(by), client=client, reason=reason, begins=now,
        ends=now + timedelta(hours=settings.OPENING_HOURS),
    )
    audit.record(
        by=by, verb="open_record", kind="opening", public_id=opening.public_id, at=now, client=client,
        until=opening.ends.isoformat(),
    )
    for lead in Staff.objects.filter(sites=client.site, user__role=Role.LEAD, user__is_active=True):
        queue_message(
            by=by, kind="record_opened", to=lead, about=f"opening:{opening.public_id}",
            dedup_key=f"record_opened:{opening.public_id}:{lead.public_id}", due=now, not_after=now + USEFUL, now=now,
            values={"url": "/records/openings/"},
        )
    return opening
