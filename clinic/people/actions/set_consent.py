"""Note that a client agreed to messages on a channel, or withdrew."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, Consent, User
from clinic.people.refusal import Refusal
from clinic.people.vocab import Channel


@transaction.atomic
def set_consent(*, by: User, client: Client, channel: str, granted: bool, now: datetime) -> Consent:
    """A new row; the newest counts, at once, for messages already waiting as well."""
    if channel not in Channel.values:
        raise Refusal("invalid", "There is no such channel.", status=400, fields={"channel": "Choose email, sms or push."})
    row = Consent.objects.create(client=client, channel=channel, granted=granted, at=now, by=by)
    audit.record(
        by=by, verb="set_consent", kind="client", public_id=client.public_id, at=now, client=client,
        channel=channel, granted=granted,
    )
    return row
