"""Set right what the practice holds about who a client is and how they are reached."""

from __future__ import annotations

from datetime import date, datetime

from allauth.account.models import EmailAddress
from django.db import transaction

from clinic.people import audit
from clinic.people.actions.register_client import clean
from clinic.people.models import Client, User
from clinic.people.refusal import NotThere, Refusal
from clinic.people.vocab import CorrectionReason, Role

NAMES = ("given_name", "family_name", "birth_date", "email", "phone", "language", "zone")


@transaction.atomic
def correct_client(
    *, by: User, client: Client, given_name: str, family_name: str, birth_date: date | None, email: str, phone: str,
    language: str, zone: str, why: str, now: datetime,
) -> tuple[str, ...]:
    """Write what differs; the names of the fields that did. The trail holds these names and why, never what stood there.

    An address that a client signs in with opens their whole record, so only the lead changes it. Refusal `invalid` (400)
    names the fields; `email_taken` (409) when the address belongs to somebody else.
    """
    if by.role not in (Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD):
        raise NotThere
    row = Client.objects.select_for_update(of=("self",)).select_related("site", "user").get(pk=client.pk)
    values, wrong = clean(row.site, given_name, family_name, email, phone, zone, birth_date, now)
    if language not in {"en", "es"}:
        wrong["language"] = "Choose English or Spanish."
    if why not in CorrectionReason.values:
        wrong["why"] = "Say how it came up."
    if row.user is not None and values.get("email") != row.email and by.role != Role.LEAD:
        wrong["email"] = "The client signs in with this address: the practice lead changes it."
    elif row.user is not None and not values.get("email"):
        wrong["email"] = "The client signs in with a mail address, so there must be one."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    wanted = {**values, "birth_date": birth_date, "language": language}
    changed = tuple(name for name in NAMES if getattr(row, name) != wanted[name])
    if not changed:
        return ()
    if "email" in changed:
        _sign_in_by(row, values["email"])
    for name in changed:
        setattr(row, name, wanted[name])
    row.save(update_fields=[*changed, "user"])
    audit.record(
        by=by, verb="correct_client", kind="client", public_id=row.public_id, at=now, client=row, fields=list(changed),
        why=why,
    )
    return changed


def _sign_in_by(client: Client, address: str) -> None:
    if User.objects.filter(email=address).exclude(client=client).exists():
        said = "Somebody else signs in with this mail address."
        raise Refusal("email_taken", said, fields={"email": said})
    if client.user is None:
        client.user = User.objects.create_user(address, Role.CLIENT)
        return
    EmailAddress.objects.filter(user=client.user).delete()   # the library's own list: the old one opens nothing any more
    client.user.email = address
    client.user.save(update_fields=["email"])
