"""Take out what is kept no more."""

from __future__ import annotations

import logging
from collections import Counter
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from clinic.people import audit
from clinic.people.models import Client, Site, User
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role
from clinic.trust import keeping
from clinic.trust.actions.erase_person import take_out

log = logging.getLogger("intervale.trust")
LOT = 500


def apply_retention(*, by: User, now: datetime) -> Counter[str]:
    """How many of each kind went. A record is a transaction of its own, other rows go by lots of 500: what is stopped in
    between is whole, and the next run goes on. Each lot and each record is in the trail. NotThere but for the system.
    """
    if by.role != Role.SYSTEM:
        raise NotThere
    done: Counter[str] = Counter()
    for site in Site.objects.order_by("name"):
        for due in keeping.due_of(site, now):
            if due.kind == "records":
                keys = list(due.rows.values_list("pk", flat=True))
                done[due.kind] += sum(_take_out(by, site, key, now) for key in keys)
            else:
                done[due.kind] += _lots(by, due, str(site.pk), now)
    for due in keeping.due_everywhere(now):
        done[due.kind] += _lots(by, due, "all", now)
    return done


@transaction.atomic
def _take_out(by: User, site: Site, key: int, now: datetime) -> int:
    """One record, unless it is wanted again by now."""
    client = Client.objects.select_for_update(of=("self",)).select_related("user").get(pk=key)
    held = keeping.settings_of(site)
    if held is None or held.record_years is None:
        return 0
    if not keeping.due_records(site, 12 * held.record_years, now).filter(pk=key).exists():
        return 0
    take_out(by=by, client=client, now=now)
    # as erase_person does: whoever brings a copy from before back needs these ids
    transaction.on_commit(lambda: log.info("person_erased", {"client": str(client.public_id)}))
    return 1


def _lots(by: User, due: keeping.Due, about: str, now: datetime) -> int:
    done = 0
    while keys := list(due.rows.values_list("pk", flat=True)[:LOT]):
        done += _lot(by, due, keys, about, now)
    return done


@transaction.atomic
def _lot(by: User, due: keeping.Due, keys: list[Any], about: str, now: datetime) -> int:
    rows: QuerySet[Any] = due.rows.model._base_manager.filter(pk__in=keys)
    number = rows.update(values={}) if due.kind == "messages" else rows.delete()[0]
    audit.record(by=by, verb="apply_retention", kind="site", public_id=about, at=now, client=None, what=due.kind, rows=number)
    return number
