"""Link events of the trail that no link covers yet."""

from __future__ import annotations

import logging
from datetime import datetime

from django.db import IntegrityError, transaction

from clinic.trust import queries
from clinic.trust.models import Seal
from clinic.trust.rules.chain import Head, digest_of

log = logging.getLogger(__name__)
MOST = 5000   # events one call seals; the next tick goes on


def seal_trail(*, now: datetime) -> Head:
    """Seal the oldest unsealed events, at most MOST of them, and log the new head; the head after it.

    Sealing apart from writing keeps every write free of a lock on the newest link. Two at once: the numbers are unique,
    so the second one writes nothing and leaves it to the next tick.
    """
    try:
        with transaction.atomic():
            end, rows = queries.head(), []
            for event in queries.unsealed()[:MOST]:
                end = Head(end.number + 1, digest_of(end.digest, queries.facts_of(event)))
                rows.append(Seal(number=end.number, event=event, digest=end.digest, at=now))
            Seal.objects.bulk_create(rows, batch_size=500)
    except IntegrityError:
        return queries.head()
    if rows:
        # the head leaves the database with the log: a chain cut short is found by it
        log.info("trail sealed to %s:%s", end.number, end.digest)
    return end
