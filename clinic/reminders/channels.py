"""The ways a message leaves. Each says which of four things happened: sent, try later, refused for good, not usable."""

from __future__ import annotations

import logging
import re
import smtplib
from dataclasses import dataclass
from datetime import datetime
from email.mime.text import MIMEText
from email.utils import parseaddr
from typing import Any, Protocol

from django.conf import settings
from django.core.mail import EmailMultiAlternatives, get_connection

from clinic.people.vocab import Channel
from clinic.reminders.kinds import Attachment

log = logging.getLogger("intervale.reminders")
_MAILBOX_FULL = 552
# enhanced status codes, RFC 3463 section 3: the second number says what it is about, 1 the address and 2 the mailbox
_SUBJECT = re.compile(rb"5\.(\d{1,3})\.\d{1,3}\b")
_OF_THE_ADDRESS = (b"1", b"2")


@dataclass(frozen=True)
class Letter:
    """What is handed over. `reference` is the message's public id: a copy sent twice carries the same."""

    address: str
    subject: str
    body: str
    reference: str
    attachments: tuple[Attachment, ...] = ()
    url: str = ""
    not_after: datetime | None = None


class TryLater(Exception):
    """This message was not taken now, for a passing reason."""


class RefusedForGood(Exception):
    """This message will never be taken. `reason` is a code."""

    def __init__(self, reason: str) -> None:
        super().__init__(reason)
        self.reason = reason


class CarrierDown(Exception):
    """The way out cannot be used at all: no message's fault. Nothing was handed over."""


class Carrier(Protocol):
    """Any other exception out of `send` means: nobody can say whether the message left."""

    def open(self) -> None: ...

    def send(self, letter: Letter) -> None: ...

    def close(self) -> None: ...


class EmailCarrier:
    """Mail through Django's EMAIL_BACKEND, one connection for a batch.

    Reply codes are those of RFC 5321 section 4.2: 4yz passing, 5yz permanent. 552, a full mailbox, passes too.
    """

    def __init__(self) -> None:
        self._connection: Any = get_connection()

    def open(self) -> None:
        try:
            self._connection.open()
        except OSError as error:   # smtplib's exceptions, TLS failures and refused connections are all OSErrors
            half_open = getattr(self._connection, "_partial_connection", None)
            if half_open is not None:   # Django closes it at the next open only, and this carrier has none
                half_open.close()
            raise CarrierDown(type(error).__name__) from error

    def send(self, letter: Letter) -> None:
        self.open()   # does nothing while the connection stands
        try:
            self._connection.send_messages([_mail(letter)])
        except (ValueError, UnicodeError) as error:   # Django's own refusal of an address or a header
            raise RefusedForGood("no_such_address") from error
        except OSError as error:
            self.close()   # after any refusal start anew: the server may have hung up
            meaning = _meaning(error)
            if meaning is None:
                raise
            raise meaning from error

    def close(self) -> None:
        try:
            self._connection.close()
        except OSError as error:
            log.warning("mail_connection_not_closed", {"error_type": type(error).__name__})


def carrier_for(channel: str) -> Carrier | None:
    """A new carrier, or None when the clinic has none for this channel."""
    if channel == Channel.SMS and settings.SMS_URL:
        from clinic.reminders.sms import SmsCarrier

        return SmsCarrier()
    if channel == Channel.PUSH and settings.PUSH_KEY:
        from clinic.reminders.push import PushCarrier

        return PushCarrier()
    return EmailCarrier() if channel == Channel.EMAIL else None


def message_id(reference: str) -> str:
    """The Message-ID header (RFC 5322 section 3.6.4) in the sender's own domain."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    return f"<{reference}@{domain}>"


def _meaning(error: OSError) -> Exception | None:
    """What a mail error says about the letter; None when nobody can say whether it left."""
    code = getattr(error, "smtp_code", 0)
    words = b""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        code, words = next(iter(error.recipients.values()))
    if isinstance(error, smtplib.SMTPNotSupportedError):
        return CarrierDown(type(error).__name__)
    if 400 <= code < 500 or code == _MAILBOX_FULL:
        return TryLater()
    if code < 500:
        return None
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        subject = _SUBJECT.match(words)
        # a server that turns us away by a policy of its own says nothing about the address
        return RefusedForGood("refused" if subject and subject[1] not in _OF_THE_ADDRESS else "no_such_address")
    if isinstance(error, smtplib.SMTPSenderRefused):   # our own address, or we are not signed in
        return CarrierDown(type(error).__name__)
    return RefusedForGood("refused")


def _part(attachment: Attachment, number: int) -> MIMEText:
    """A part with the parameters of its type, which Django's own way of attaching would lose."""
    kind, _, rest = attachment.mimetype.partition(";")
    part = MIMEText(attachment.content, kind.partition("/")[2], "utf-8")
    for pair in filter(None, rest.split(";")):
        name, _, value = pair.strip().partition("=")
        part.set_param(name, value)
    part.add_header("Content-Disposition", "attachment", filename=f"visit-{number}.ics")
    return part


def _mail(letter: Letter) -> EmailMultiAlternatives:
    # RFC 3834: answering machines must leave automatic mail alone
    headers = {"Message-ID": message_id(letter.reference), "Auto-Submitted": "auto-generated"}
    mail = EmailMultiAlternatives(letter.subject, letter.body, to=[letter.address], headers=headers)
    if len(letter.attachments) == 1:
        mail.attach_alternative(letter.attachments[0].content, letter.attachments[0].mimetype)
    else:   # none of several says the same as the words do
        for number, each in enumerate(letter.attachments, 1):
            mail.attach(_part(each, number))
    return mail
