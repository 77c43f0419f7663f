"""The calendar part of a mail about a visit: an invitation that a later mail brings up to date or takes back.

RFC 5546 (iTIP) sections 3.2.2 REQUEST and 3.2.5 CANCEL, carried by mail as RFC 6047 (iMIP) section 2.4 has it. The title is
as neutral as everywhere; no answer is asked for, because a visit is moved or called off on the page of visits or by phone.
"""

from __future__ import annotations

from email.utils import parseaddr
from typing import Any

from django.conf import settings

from clinic.booking import queries
from clinic.booking.feeds import entry
from clinic.booking.models import Appointment
from clinic.booking.rules import ical
from clinic.booking.vocab import FeedKind
from clinic.reminders.kinds import Attachment


def appointment_of(message: Any) -> Appointment | None:
    """The visit that a message is about, as looked up for many at once where that was done; None when it is gone."""
    return message.found if message.looked_up else queries.appointment_of(message.about)


def invitation(message: Any, address: str) -> list[Attachment]:
    """For the one the message goes to; none when the visit is gone."""
    visit = appointment_of(message)
    return [] if visit is None else [_of(visit, message, address)]


def invitations(message: Any, address: str) -> list[Attachment]:
    """Of every visit of a series that stands as the mail leaves, each by itself: a REQUEST has one UID (section 3.2.2)."""
    first = appointment_of(message)
    if first is None or first.series is None:
        return invitation(message, address)
    return [_of(visit, message, address) for visit in queries.visits_in(first.series) if visit.status in queries.UPCOMING]


def _of(visit: Appointment, message: Any, address: str) -> Attachment:
    row = entry(visit, FeedKind.CLIENT)
    method = "CANCEL" if row.status == ical.CANCELLED else "REQUEST"
    content = ical.calendar_of(
        [row], method=method, stamp=message.created,
        between=ical.Between(parseaddr(settings.DEFAULT_FROM_EMAIL)[1], visit.site.name, address),
    )
    return Attachment(content.decode(), f"text/calendar; method={method}")
