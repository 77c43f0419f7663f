"""Reserve the moments at which messages may leave by a channel, shared by every worker."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import transaction

from clinic.reminders.models import Pace
from clinic.reminders.rules.pace import moments


@transaction.atomic
def reserve_moments(
    *, channel: str, wanted: int, within: timedelta, now: datetime
) -> tuple[list[datetime], datetime | None]:
    """Up to `wanted` moments within `within` of now; with none of them, when to ask again. All now without a limit.

    A worker that dies with its moments loses them: fewer leave, never more.
    """
    per_minute = settings.MESSAGES_PER_MINUTE.get(channel)
    if not per_minute:
        return [now] * wanted, None
    Pace.objects.get_or_create(channel=channel, defaults={"free_from": now})
    row = Pace.objects.select_for_update().get(channel=channel)
    given, row.free_from = moments(row.free_from, now=now, wanted=wanted, per_minute=per_minute, within=within)
    if not given:
        return [], row.free_from
    row.save(update_fields=["free_from"])
    return given, None
