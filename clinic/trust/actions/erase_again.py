"""Take out again whoever was erased after a copy was made that has now been brought back."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from uuid import UUID

from django.db import transaction

from clinic.people.models import Client, User
from clinic.trust.actions.erase_person import take_out


@transaction.atomic
def erase_again(*, by: User, erased: Iterable[UUID], now: datetime) -> list[UUID]:
    """Erase these clients; the ids that the copy does not hold: they came after it.

    Nobody's name is asked for and nothing open stands in the way: it was decided once, and the copy must not undo it.
    """
    wanted = set(erased)
    for client in Client.objects.select_for_update(of=("self",)).select_related("user").filter(public_id__in=wanted):
        take_out(by=by, client=client, now=now)
        wanted.discard(client.public_id)
    return sorted(wanted)
