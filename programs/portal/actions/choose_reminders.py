"""A client says how and when they want to hear from the clinic."""

from __future__ import annotations

from datetime import datetime, time
from enum import Enum

from django.db import transaction
from django.utils.translation import gettext_noop

from clinic.people import audit
from clinic.people.actions.set_consent import set_consent
from clinic.people.models import Client, User
from clinic.people.queries import consents, own_client
from clinic.people.refusal import Refusal
from clinic.people.vocab import Channel
from clinic.reminders.queries import push_device_count
from programs.following.actions.choose_nudge import choose_nudge
from programs.following.nudging import nudge_of


class Same(Enum):
    """Stands for a wish that is not spoken of."""

    SAME = "same"


SAME = Same.SAME


@transaction.atomic
def choose_reminders(
    *, by: User, channels: set[str], quiet_from: time, quiet_until: time, now: datetime, nudge_at: time | Same | None = SAME
) -> Client:
    """All of it counts at once, for messages already waiting as well; no channel at all stops every reminder.

    `nudge_at`: when to be reminded on days that ask for a session, None for never; left out it stays as it is.
    Refusals (400): `no_address` for a channel the client has no address for; those of `choose_nudge`.
    """
    client = own_client(by)
    addresses = {
        Channel.EMAIL: client.email, Channel.SMS: client.phone, Channel.PUSH: push_device_count(client) > 0,
    }
    if any(not addresses[Channel(channel)] for channel in channels):
        sentence = gettext_noop("We have no address of yours for this. Ring us, and we note it.")
        raise Refusal("no_address", sentence, status=400, fields={"channels": sentence})
    held = consents(client)
    for channel in Channel:
        wanted = channel.value in channels
        if held.get(channel.value, False) != wanted:
            set_consent(by=by, client=client, channel=channel.value, granted=wanted, now=now)
    if (client.quiet_from, client.quiet_until) != (quiet_from, quiet_until):
        client.quiet_from, client.quiet_until = quiet_from, quiet_until
        client.save(update_fields=["quiet_from", "quiet_until"])
        audit.record(
            by=by, verb="choose_quiet_hours", kind="client", public_id=client.public_id, at=now, client=client,
            quiet_from=quiet_from.isoformat("minutes"), quiet_until=quiet_until.isoformat("minutes"),
        )
    if not channels:
        nudge_at = None
    elif isinstance(nudge_at, Same):
        wish = nudge_of(client)
        nudge_at = wish.at if wish else None
    choose_nudge(by=by, at=nudge_at, now=now)
    return client
