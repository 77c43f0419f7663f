"""Bring a client's record back that was put away."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, User
from clinic.people.queries import clients_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import Role
from clinic.trust.keeping import not_erased


@transaction.atomic
def bring_back(*, by: User, client: Client, now: datetime) -> None:
    """The client can be booked and signs in again; episodes stay ended. Refusals: `not_away`, `erased`. For the lead."""
    if by.role != Role.LEAD or not clients_for(by).filter(pk=client.pk).exists():
        raise NotThere
    row = Client.objects.select_for_update(of=("self",)).get(pk=client.pk)
    if row.archived is None:
        raise Refusal("not_away", "This record is not put away.")
    if not not_erased(Client.objects.filter(pk=row.pk)).exists():
        raise Refusal("erased", "This person was taken out of the records: there is nothing to bring back.")
    row.archived = None
    row.save(update_fields=["archived"])
    audit.record(by=by, verb="bring_back", kind="client", public_id=row.public_id, at=now, client=row)
