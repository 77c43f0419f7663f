"""Fill in what was not yet known about a client."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, User
from clinic.people.refusal import Refusal
from clinic.people.rules import contacts
from clinic.people.vocab import Role


@transaction.atomic
def complete_client(
    *,
    by: User,
    client: Client,
    now: datetime,
    birth_date: date | None = None,
    email: str = "",
    phone: str = "",
    external_ref: str = "",
) -> tuple[str, ...]:
    """Fill only what is empty; what is there stays. The names of the fields filled.

    Refusal `email_taken` (409) when the address belongs to somebody else.
    """
    offered = {
        "birth_date": birth_date,
        "email": contacts.clean_email(email) if email else "",
        "phone": contacts.clean_phone(phone, client.site.region_code) if phone else "",
        "external_ref": external_ref,
    }
    filled = tuple(name for name, value in offered.items() if value and not getattr(client, name))
    if not filled:
        return ()
    if "email" in filled and client.user is None:
        if User.objects.filter(email=offered["email"]).exists():
            said = "Somebody else signs in with this mail address."
            raise Refusal("email_taken", said, fields={"email": said})
        client.user = User.objects.create_user(str(offered["email"]), Role.CLIENT)
    for name in filled:
        setattr(client, name, offered[name])
    client.save(update_fields=[*filled, "user"])
    audit.record(
        by=by, verb="complete_client", kind="client", public_id=client.public_id, at=now, client=client,
        fields=list(filled),
    )
    return filled
