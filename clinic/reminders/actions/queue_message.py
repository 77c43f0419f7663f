"""Write a message into the outbox, in the transaction that causes it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.conf import settings
from django.db import transaction

from clinic.people.models import Client, Staff, User
from clinic.people.queries import consents
from clinic.people.vocab import Channel
from clinic.reminders import bell
from clinic.reminders.kinds import kind as registered_kind
from clinic.reminders.models import Message


@transaction.atomic(savepoint=False)
def queue_message(
    *,
    by: User,
    kind: str,
    to: Client | Staff,
    about: str,
    dedup_key: str,
    due: datetime,
    not_after: datetime,
    now: datetime,
    values: dict[str, str] | None = None,
    channel: Channel | None = None,
    first: bool = False,
) -> Message | None:
    """Queue once per `dedup_key`; None when that message is already there. `first`: the caller made what it is about in this
    very transaction, so that nobody else can have queued it and none is looked for.

    `about` is `kind:public id` of what it is about, `values` holds texts for the wording's placeholders (a first
    name and times only). Without a `channel` it is mail, or a text message to a client who agreed to these and not to mail,
    where the clinic has a gateway; a notification to one who agreed to these alone. KeyError for a kind no app registered.
    """
    registered_kind(kind)
    cells: dict[str, Any] = {
        "kind": kind,
        "client": to if isinstance(to, Client) else None,
        "staff": to if isinstance(to, Staff) else None,
        "channel": channel or _channel_of(to),
        "about": about,
        "values": values or {},
        "due": due,
        "not_after": not_after,
        "created": now,
    }
    if first:
        message, created = Message.objects.create(dedup_key=dedup_key, **cells), True
    else:
        message, created = Message.objects.get_or_create(dedup_key=dedup_key, defaults=cells)
    if created and due <= now:
        bell.ring()
    return message if created else None


def _channel_of(to: Client | Staff) -> Channel:
    if not isinstance(to, Client) or not ((settings.SMS_URL and to.phone) or settings.PUSH_KEY):
        return Channel.EMAIL
    agreed = consents(to)
    if agreed.get(Channel.EMAIL):
        return Channel.EMAIL
    if agreed.get(Channel.SMS) and settings.SMS_URL and to.phone:
        return Channel.SMS
    return Channel.PUSH if agreed.get(Channel.PUSH) and settings.PUSH_KEY else Channel.EMAIL
