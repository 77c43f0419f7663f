"""A client lets a clinic's own portal act for them, or takes it back."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.queries import own_client
from clinic.people.refusal import NotThere
from programs.portal.models import AccessToken, Agreement


@transaction.atomic
def answer_own_portal(*, by: User, token: AccessToken, agreed: bool, now: datetime) -> None:
    """It counts at once; the same answer again changes nothing."""
    client = own_client(by)
    if token.site_id != client.site_id:
        raise NotThere
    if agreed:
        _, changed = Agreement.objects.get_or_create(token=token, client=client, until=None, defaults={"since": now})
    else:
        changed = bool(Agreement.objects.filter(token=token, client=client, until__isnull=True).update(until=now))
    if changed:
        audit.record(
            by=by, verb="answer_own_portal", kind="token", public_id=token.public_id, at=now, client=client, agreed=agreed
        )
