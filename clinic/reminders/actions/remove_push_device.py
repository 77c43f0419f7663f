"""A client's device shows no more notifications."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.actions.set_consent import set_consent
from clinic.people.models import User
from clinic.people.queries import consents, own_client
from clinic.people.vocab import Channel
from clinic.reminders.models import PushDevice


@transaction.atomic
def remove_push_device(*, by: User, endpoint: str, now: datetime) -> None:
    """Of their own; one that is not there is no fault. With the last one the agreement to the channel ends."""
    client = own_client(by)
    gone, _ = PushDevice.objects.filter(client=client, endpoint=endpoint).delete()
    if not gone:
        return
    audit.record(by=by, verb="remove_push_device", kind="client", public_id=client.public_id, at=now, client=client)
    if consents(client).get(Channel.PUSH) and not PushDevice.objects.filter(client=client).exists():
        set_consent(by=by, client=client, channel=Channel.PUSH, granted=False, now=now)
