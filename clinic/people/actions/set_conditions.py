"""Note which conditions hold for a client from today."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, Condition, User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import ConditionCode, Role


@transaction.atomic
def set_conditions(*, by: User, client: Client, codes: Collection[str], now: datetime) -> tuple[set[str], set[str]]:
    """(begun, ended): those of `codes` that did not hold begin today, those that held and are not in it end yesterday.

    One that began today and is taken back was a slip: it goes. By a clinician. Refusal: `invalid` for a code nobody knows.
    """
    if by.role != Role.CLINICIAN:
        raise NotThere
    wanted = set(codes)
    if unknown := wanted - set(ConditionCode.values):
        raise Refusal(
            "invalid", "This is not one of the conditions.", status=400,
            fields={"conditions": f"Not known: {sorted(unknown)[0]}."},
        )
    today = zones.day_in(now, client.zone)
    Client.objects.select_for_update(of=("self",)).get(pk=client.pk)   # two at once: the second sees what the first did
    held = {row.code: row for row in client.conditions.filter(until__isnull=True)}
    begun, ended = wanted - held.keys(), held.keys() - wanted
    for code in ended:
        if held[code].since >= today:
            held[code].delete()
        else:
            held[code].until = today - timedelta(days=1)
            held[code].save(update_fields=["until"])
    Condition.objects.bulk_create([Condition(client=client, code=code, since=today) for code in sorted(begun)])
    if begun or ended:
        audit.record(
            by=by, verb="set_conditions", kind="client", public_id=client.public_id, at=now, client=client,
            begun=sorted(begun), ended=sorted(ended),
        )
    return begun, ended
