"""Make a secret address of a calendar."""

from __future__ import annotations

import secrets
from datetime import datetime

from django.db import transaction

from clinic.booking.feeds import hash_secret, kinds_for, own_feeds, rooms_for
from clinic.booking.models import CalendarFeed, Room
from clinic.booking.vocab import FeedKind
from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import NotThere, Refusal

MOST_FEEDS = 10   # of one person, at a time


@transaction.atomic
def make_feed(*, by: User, kind: str, room: Room | None = None, now: datetime) -> tuple[CalendarFeed, str]:
    """The feed and its secret, which is not kept and never shown again.

    Refusals: `invalid` (400) for a room's feed without a room; `too_many` (409). NotThere for a kind that is not for them
    or a room elsewhere.
    """
    if kind not in kinds_for(by):
        raise NotThere
    if kind == FeedKind.ROOM:
        if room is None:
            raise Refusal("invalid", "Choose a room.", status=400, fields={"room": "Choose a room."})
        if not rooms_for(by).filter(pk=room.pk).exists():
            raise NotThere
    if own_feeds(by).count() >= MOST_FEEDS:
        raise Refusal("too_many", "You have ten already. End one that you do not use.", status=409)
    secret = secrets.token_urlsafe(32)
    feed = CalendarFeed.objects.create(
        kind=kind, owner=by, room=room if kind == FeedKind.ROOM else None, secret_hash=hash_secret(secret), created=now,
    )
    audit.record(
        by=by, verb="make_feed", kind="calendar_feed", public_id=feed.public_id, at=now,
        client=getattr(by, "client", None), of=str(kind),
    )
    return feed, secret
