"""Register a client."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Client, Condition, Consent, Site, User
from clinic.people.refusal import Refusal
from clinic.people.rules import contacts, zones
from clinic.people.vocab import Channel, ConditionCode, Role

EARLIEST_BIRTH = date(1900, 1, 1)


@transaction.atomic
def register_client(
    *,
    by: User,
    site: Site,
    given_name: str,
    family_name: str = "",
    now: datetime,
    birth_date: date | None = None,
    email: str = "",
    phone: str = "",
    language: str = "en",
    zone: str = "",
    conditions: tuple[str, ...] = (),
    consent_email: bool = False,
    consent_sms: bool = False,
    external_ref: str = "",
) -> Client:
    """Create the client, their way to sign in (when there is a mail address), consents and screening answers.

    The desk registers without answers about health. Refusal `invalid` (400) names the fields; `email_taken` (409) when the
    address belongs to somebody else.
    """
    values, wrong = clean(site, given_name, family_name, email, phone, zone, birth_date, now)
    unknown = [code for code in conditions if code not in ConditionCode.values]
    if unknown:
        wrong["conditions"] = f"{unknown[0]} is not a screening answer we know."
    if conditions and by.role == Role.FRONT_DESK:
        wrong["conditions"] = "A clinician notes what applies."
    if language not in {"en", "es"}:
        wrong["language"] = "Choose English or Spanish."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    user = None
    if values["email"]:
        if User.objects.filter(email=values["email"]).exists():
            raise Refusal(
                "email_taken", "Somebody else signs in with this mail address.",
                fields={"email": "Somebody else signs in with this mail address."},
            )
        user = User.objects.create_user(values["email"], Role.CLIENT)
    client = Client.objects.create(
        user=user, site=site, birth_date=birth_date, language=language, external_ref=external_ref, registered=now,
        **values,
    )
    for channel, granted in ((Channel.EMAIL, consent_email), (Channel.SMS, consent_sms)):
        if granted:
            Consent.objects.create(client=client, channel=channel, granted=True, at=now, by=by)
    since = zones.day_in(now, client.zone)
    Condition.objects.bulk_create(Condition(client=client, code=code, since=since) for code in dict.fromkeys(conditions))
    audit.record(by=by, verb="register_client", kind="client", public_id=client.public_id, at=now, client=client)
    return client


def clean(
    site: Site, given: str, family: str, email: str, phone: str, zone: str, born: date | None, now: datetime
) -> tuple[dict[str, str], dict[str, str]]:
    """(values in their stored form, what is wrong by field)."""
    values: dict[str, str] = {}
    wrong: dict[str, str] = {}

    def take(field: str, text: str, read: object) -> None:
        try:
            values[field] = read(text) if text else ""   # type: ignore[operator]
        except ValueError as error:
            wrong[field] = f"{str(error)[0].upper()}{str(error)[1:]}."

    take("given_name", given, contacts.clean_name)
    take("family_name", family, contacts.clean_name)
    take("email", email, contacts.clean_email)
    take("phone", phone, lambda text: contacts.clean_phone(text, site.region_code))
    take("zone", zone or site.zone, lambda text: zones.zone(text).key)
    if not values.get("given_name") and "given_name" not in wrong:
        wrong["given_name"] = "A first name is needed; a person with one name has it here."
    if born and not EARLIEST_BIRTH <= born <= now.date():
        wrong["birth_date"] = f"A birth date lies between 1900 and today, not {born:%d %B %Y}."
    return values, wrong
