"""Making a letter out of a message: who gets it now, and the words in their language."""

from __future__ import annotations

from datetime import time

from django.conf import settings

from clinic.people.models import Client, Site
from clinic.people.vocab import Channel
from clinic.reminders.channels import Letter
from clinic.reminders.kinds import Kind
from clinic.reminders.models import Message
from clinic.reminders.rules.sending import Recipient
from clinic.reminders.rules.wording import fill, one_line, pick_language

_NEVER_QUIET = time(0)


def recipient_of(message: Message) -> Recipient:
    """The recipient as they are at this moment; `message` comes through `queries.with_recipient`."""
    suppressed = message.suppressed   # type: ignore[attr-defined]
    if message.client is not None:
        client = message.client
        return Recipient(
            first_name=client.given_name,
            address=_address(client, message.channel),
            language=client.language,
            zone=client.zone,
            quiet_from=client.quiet_from,
            quiet_until=client.quiet_until,
            archived=client.archived is not None,
            account_open=client.user is None or client.user.is_active,
            consented=bool(message.consented),   # type: ignore[attr-defined]
            suppressed=suppressed,
        )
    staff = message.staff
    if staff is None:   # the database holds exactly one recipient
        raise ValueError(f"message {message.public_id} has no recipient")
    return Recipient(
        first_name=staff.name.split()[0] if staff.name.strip() else "",
        address=staff.user.email if message.channel == "email" else "",
        language="en",
        zone="UTC",
        quiet_from=_NEVER_QUIET,
        quiet_until=_NEVER_QUIET,
        archived=False,
        account_open=staff.user.is_active,
        consented=True,
        suppressed=suppressed,
    )


def _address(client: Client, channel: str) -> str:
    """Where a channel finds them; notifications go to devices, which the carrier looks up by the client's key."""
    return {Channel.EMAIL.value: client.email, Channel.SMS.value: client.phone}.get(channel, str(client.pk))


def write_letter(message: Message, kind: Kind, recipient: Recipient) -> Letter:
    """Subject and body from the kind's wording; a `url` value that starts with / is put behind the public address."""
    values = placed({"first_name": recipient.first_name, **message.values}, _site_of(message))
    goes_along = kind.attach(message, recipient.address) if kind.attach and message.channel == Channel.EMAIL else ()
    wording = kind.wordings[pick_language(recipient.language, kind.wordings)]
    return Letter(
        address=recipient.address,
        subject=one_line(fill(wording.subject, values)),
        body=fill(wording.body, values),
        reference=str(message.public_id),
        attachments=tuple(goes_along),
        url=str(values["url"]),
        not_after=message.not_after,
    )


def placed(values: dict[str, str], site: Site | None) -> dict[str, str]:
    """`values` with what a site adds: its name, its number, and the public address before a `url` that starts with /."""
    whole = {"clinic": site.name if site else "", "phone": site.phone if site else "", "url": "/", **values}
    if str(whole["url"]).startswith("/"):
        whole["url"] = f"{settings.PUBLIC_URL}{whole['url']}"
    return whole


def _site_of(message: Message) -> Site | None:
    if message.client is not None:
        return message.client.site
    return next(iter(message.staff.sites.all()), None) if message.staff else None
