"""Write down why a record stays whatever the settings say, or that it need not."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, User
from clinic.people.queries import clients_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules.plain_words import has_controls, tidy
from clinic.people.vocab import Role

MOST_WORDS = 300


@transaction.atomic
def set_keep(*, by: User, client: Client, why: str, now: datetime) -> None:
    """No reason lifts it. The trail keeps that it was set or lifted, not why. Refusal `invalid` (400). For the lead."""
    if by.role != Role.LEAD or not clients_for(by).filter(pk=client.pk).exists():
        raise NotThere
    text = tidy(why)
    if len(text) > MOST_WORDS or has_controls(text):
        said = f"{MOST_WORDS} letters at the most, without control characters."
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields={"why": said})
    row = Client.objects.select_for_update(of=("self",)).get(pk=client.pk)
    row.keep = text
    row.save(update_fields=["keep"])
    verb = "keep_record" if text else "let_record_go"
    audit.record(by=by, verb=verb, kind="client", public_id=row.public_id, at=now, client=row)
