"""Put a client's record away once the treatment is over."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, User
from clinic.people.queries import clients_for, today_of
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import EpisodeStatus, Role
from clinic.trust.keeping import OVER, in_care


@transaction.atomic
def put_away(*, by: User, client: Client, now: datetime) -> None:
    """Episodes end today, nothing can be booked any more, and the time that the record is kept begins.

    Refusals: `away_already`; `still_active` while a visit is to come, a program goes on or an alert is open. NotThere but for
    the lead.
    """
    if by.role != Role.LEAD or not clients_for(by).filter(pk=client.pk).exists():
        raise NotThere
    row = Client.objects.select_for_update(of=("self",)).get(pk=client.pk)
    if row.archived is not None:
        raise Refusal("away_already", "This record is put away already.")
    today = today_of(row, now)
    for episode in row.episodes.exclude(status__in=OVER):
        episode.status, episode.closed = EpisodeStatus.FINISHED, max(today, episode.opened)
        episode.save(update_fields=["status", "closed"])
        audit.record(by=by, verb="close_episode", kind="episode", public_id=episode.public_id, at=now, client=row)
    if Client.objects.filter(in_care(now), pk=row.pk).exists():
        said = "This client has a visit to come, a program that goes on or an open alert. Cancel, end or close it first."
        raise Refusal("still_active", said)
    row.archived = now
    row.save(update_fields=["archived"])
    audit.record(by=by, verb="put_away", kind="client", public_id=row.public_id, at=now, client=row)
