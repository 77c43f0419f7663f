"""A client lets one of their devices show notifications."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.db import transaction
from django.utils.translation import gettext_noop

from clinic.people import audit
from clinic.people.actions.set_consent import set_consent
from clinic.people.models import User
from clinic.people.queries import consents, own_client
from clinic.people.refusal import Refusal
from clinic.people.vocab import Channel
from clinic.reminders.models import PushDevice
from clinic.reminders.rules.endpoint import MOST_DEVICES, SECRET, bytes_of, is_usable
from clinic.reminders.sealing import is_point


@transaction.atomic
def add_push_device(
    *, by: User, endpoint: str, p256dh: str, auth: str, now: datetime, session_key: str = ""
) -> PushDevice:
    """Agreement to the channel goes with it. The same endpoint again is the same device, whoever had it before.

    Of more than five the one added first makes room. `session_key`: the sign-in that it ends with. Refusals: `no_channel`
    (409) without a key of the clinic, `invalid` (400) for an address or keys that cannot be used.
    """
    client = own_client(by)
    if not settings.PUSH_KEY:
        raise Refusal("no_channel", gettext_noop("This clinic sends no notifications."))
    wrong = _wrong(endpoint, p256dh, auth)
    if wrong:
        sentence = gettext_noop("Some values cannot be used.")
        raise Refusal("invalid", sentence, status=400, fields=dict.fromkeys(wrong, sentence))
    cells = {"client": client, "p256dh": p256dh, "auth": auth, "session_key": session_key, "since": now}
    device, _ = PushDevice.objects.update_or_create(endpoint=endpoint, defaults=cells)
    surplus = PushDevice.objects.filter(client=client).order_by("-since", "-pk").values_list("pk", flat=True)[MOST_DEVICES:]
    PushDevice.objects.filter(pk__in=list(surplus)).delete()
    if not consents(client).get(Channel.PUSH):
        set_consent(by=by, client=client, channel=Channel.PUSH, granted=True, now=now)
    audit.record(by=by, verb="add_push_device", kind="client", public_id=client.public_id, at=now, client=client)
    return device


def _wrong(endpoint: str, p256dh: str, auth: str) -> list[str]:
    wrong = [] if is_usable(endpoint, local=settings.PUSH_LOCAL) else ["endpoint"]
    wrong += [] if is_point(p256dh) else ["p256dh"]
    try:
        bytes_of(auth, SECRET)
    except ValueError:
        wrong.append("auth")
    return wrong
