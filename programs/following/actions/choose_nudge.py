"""A client wishes to be reminded on days that ask for a session, or no longer does."""

from __future__ import annotations

from datetime import datetime, time

from django.db import transaction
from django.utils.translation import gettext_noop

from clinic.people import audit
from clinic.people.models import User
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from programs.following.models import DayNudge
from programs.following.nudging import nudge_of
from programs.following.rules import nudge


@transaction.atomic
def choose_nudge(*, by: User, at: time | None, now: datetime) -> DayNudge | None:
    """At `at` by the client's clock from the next such moment on; None ends it. The same again writes nothing.

    Refusals (400): `no_such_time` off the half hour, `in_quiet_hours` when no message may come at that time.
    """
    client = own_client(by)
    if at is not None and at not in nudge.times():
        raise _refusal("no_such_time", gettext_noop("Choose a full or a half hour."))
    if at is not None and nudge.within(at, client.quiet_from, client.quiet_until):
        raise _refusal(
            "in_quiet_hours", gettext_noop("You want no messages at that time. Choose another, or change the hours.")
        )
    held = nudge_of(client)
    if (held.at if held else None) == at:
        return held
    audit.record(
        by=by, verb="choose_nudge", kind="client", public_id=client.public_id, at=now, client=client,
        nudge_at=at.isoformat("minutes") if at else "",
    )
    if at is None:
        DayNudge.objects.filter(client=client).delete()
        return None
    row, _ = DayNudge.objects.update_or_create(
        client=client, defaults={"at": at, "next_at": nudge.next_after(now, at, client.zone)}
    )
    return row


def _refusal(code: str, sentence: str) -> Refusal:
    return Refusal(code, sentence, status=400, fields={"nudge_at": sentence})
