"""Visits as iCalendar (RFC 5545), with titles that give nothing away on a shared screen.

A visit is one VEVENT under one UID for ever; SEQUENCE rises with each new version of it, so that whoever knows an older one
replaces it. All times are in UTC. Folding at 75 octets and escaping are the library's.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from icalendar import Calendar, Event, vCalAddress

PRODUCT = "-//Intervale//Visits//EN"
TENTATIVE, CONFIRMED, CANCELLED = "TENTATIVE", "CONFIRMED", "CANCELLED"
TITLES = {"en": "Visit", "es": "Visita"}   # for the client, by BCP 47 primary subtag
BUSY = "Busy"
# the library writes control characters as they are; RFC 5545 section 3.1 allows none of them in a text but the tab
_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")


@dataclass(frozen=True, slots=True)
class Entry:
    """One visit in one calendar. Instants are aware; `status` is one of RFC 5545 section 3.8.1.11 for VEVENT."""

    uid: str
    sequence: int
    starts: datetime
    ends: datetime
    title: str
    place: str
    status: str
    changed: datetime


@dataclass(frozen=True, slots=True)
class Between:
    """Who invites whom: two mail addresses, and the name of the practice."""

    organizer: str
    name: str
    attendee: str


def uid_of(public_id: object) -> str:
    """The UID of a visit, the same in every calendar and mail."""
    return f"{public_id}@intervale"


def event_of(entry: Entry, stamp: datetime | None = None) -> Event:
    """`stamp` is when the file is made; without a METHOD it is when the visit last changed (RFC 5545 section 3.8.7.2)."""
    event = Event()
    event.add("uid", entry.uid)
    event.add("sequence", entry.sequence)
    event.add("dtstamp", stamp or entry.changed)
    event.add("last-modified", entry.changed)
    event.add("dtstart", entry.starts)
    event.add("dtend", entry.ends)
    event.add("summary", plain(entry.title))
    event.add("location", plain(entry.place))
    event.add("status", entry.status)
    event.add("class", "PRIVATE")
    event.add("transp", "TRANSPARENT" if entry.status == CANCELLED else "OPAQUE")
    return event


def _invite(event: Event, between: Between) -> None:
    """ORGANIZER and ATTENDEE, which a REQUEST and a CANCEL must have (RFC 5546 sections 3.2.2 and 3.2.5)."""
    organizer, attendee = (
        vCalAddress("mailto:" + "".join(plain(address).split())) for address in (between.organizer, between.attendee)
    )
    organizer.params["CN"] = " ".join(plain(between.name).replace('"', "'").split())
    attendee.params["ROLE"] = "REQ-PARTICIPANT"
    attendee.params["RSVP"] = "FALSE"
    event["organizer"] = organizer
    event.add("attendee", attendee, encode=False)


def calendar_of(
    entries: Iterable[Entry], *, method: str = "", stamp: datetime | None = None, between: Between | None = None
) -> bytes:
    """A calendar of these entries; the same entries without `stamp` give the same bytes."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    if method:
        calendar.add("method", method)
    for entry in entries:
        event = event_of(entry, stamp)
        if between is not None:
            _invite(event, between)
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def plain(text: str) -> str:
    """The text without control characters."""
    return _CONTROL.sub("", text)
