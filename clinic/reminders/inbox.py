"""A mail backend that keeps mail on a page: the embedded mode sends nothing anywhere."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.mail import EmailMessage
from django.core.mail.backends.base import BaseEmailBackend
from django.utils import timezone

from clinic.reminders.models import InboxMessage


class InboxBackend(BaseEmailBackend):
    """Writes each mail to InboxMessage."""

    def send_messages(self, email_messages: Sequence[EmailMessage]) -> int:
        InboxMessage.objects.bulk_create(
            InboxMessage(
                to=", ".join(mail.to)[:254],
                subject=str(mail.subject)[:300],
                body=str(mail.body),
                message_id=mail.extra_headers.get("Message-ID", ""),
                at=timezone.now(),
            )
            for mail in email_messages
        )
        return len(email_messages)
