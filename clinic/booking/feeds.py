"""Calendar feeds: whose they are, and what is in one."""

from __future__ import annotations

import hashlib
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import Q, QuerySet

from clinic.booking.models import Appointment, CalendarFeed, GroupVisit, Room
from clinic.booking.queries import appointments_for
from clinic.booking.rules import ical
from clinic.booking.vocab import AppointmentStatus, FeedKind
from clinic.people.models import User
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role

BACK = timedelta(days=62)      # visits older than this leave the feed
AHEAD = timedelta(days=732)    # as far as visits can be booked, and a day
MOST = 3000                    # visits in a feed, the newest kept
TO_THE = timedelta(minutes=1)  # how exactly the last use is kept
_OFF = (AppointmentStatus.CANCELLED, AppointmentStatus.ENTERED_IN_ERROR)
_NEVER = (AppointmentStatus.PROPOSED, AppointmentStatus.WAITLIST)   # not in the book


def hash_secret(secret: str) -> str:
    """SHA-256 of a secret of 256 random bits: nothing slower is needed, for nobody can guess it (OWASP ASVS 5.0, 11.4)."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def kinds_for(user: User) -> tuple[FeedKind, ...]:
    """The kinds of feed a person can make: their own visits, or a room's."""
    match user.role:
        case Role.CLIENT:
            return (FeedKind.CLIENT,)
        case Role.CLINICIAN:
            return (FeedKind.CLINICIAN, FeedKind.ROOM)
        case Role.FRONT_DESK | Role.LEAD:
            return (FeedKind.ROOM,)
    return ()


def rooms_for(user: User) -> QuerySet[Room]:
    """The rooms of the sites a member of staff works at."""
    if FeedKind.ROOM not in kinds_for(user):
        return Room.objects.none()
    return Room.objects.filter(site__in=sites_for(user)).select_related("site").order_by("site__name", "name", "pk")


def own_feeds(user: User) -> QuerySet[CalendarFeed]:
    """The feeds of a signed-in person that have not ended, the newest first."""
    return CalendarFeed.objects.filter(owner=user, ended__isnull=True).select_related("room__site")


def own_feed(user: User, public_id: UUID) -> CalendarFeed:
    """One of them. NotThere for anybody else's."""
    found = own_feeds(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def feed_by_secret(secret: str) -> CalendarFeed:
    """The feed of that secret while it holds: not ended, its owner still allowed in. NotThere for all others alike."""
    rows = CalendarFeed.objects.select_related("owner__client", "room__site")
    feed = rows.filter(secret_hash=hash_secret(secret), ended__isnull=True, owner__is_active=True).first()
    if feed is None or feed.kind not in kinds_for(feed.owner) or not _still_there(feed):
        raise NotThere
    return feed


def _still_there(feed: CalendarFeed) -> bool:
    if feed.kind == FeedKind.CLIENT:
        client = getattr(feed.owner, "client", None)
        return client is not None and client.archived is None
    return feed.room is None or sites_for(feed.owner).filter(pk=feed.room.site_id).exists()


def calendar(feed: CalendarFeed, now: datetime) -> bytes:
    """The visits of two months back and all that are booked, those called off as cancelled. Two queries.

    A clinician's and a room's hold a group once, not once a client.
    """
    if feed.kind == FeedKind.CLIENT:
        meetings = GroupVisit.objects.none()
    elif feed.room is not None:
        meetings = GroupVisit.objects.filter(room=feed.room)
    else:
        meetings = GroupVisit.objects.filter(clinician__user=feed.owner)
    if feed.room is not None:   # whoever looks after a room sees when it is taken, by whomever
        rows = Appointment.objects.filter(room=feed.room).select_related("site", "room", "client")
    else:
        rows = appointments_for(feed.owner)
    if feed.kind != FeedKind.CLIENT:
        rows = rows.filter(place__isnull=True)
    near = Q(starts__gt=now - BACK, starts__lt=now + AHEAD)
    visits = list(rows.filter(near).exclude(status__in=_NEVER).order_by("-starts", "-pk")[:MOST])
    found = list(meetings.filter(near).select_related("site", "room").order_by("-starts", "-pk")[:MOST])
    entries = [entry(visit, feed.kind) for visit in visits] + [group_entry(group, feed.kind) for group in found]
    return ical.calendar_of(sorted(entries, key=lambda each: (each.starts, each.uid))[-MOST:])


def entry(visit: Appointment, kind: str) -> ical.Entry:
    """A visit as it stands in a calendar of that kind; a room is taken with the preparation and the clean-up."""
    room = kind == FeedKind.ROOM
    title = ical.TITLES["en"] if kind == FeedKind.CLINICIAN else ical.BUSY if room else title_for(visit.client.language)
    return ical.Entry(
        uid=ical.uid_of(visit.public_id),
        sequence=visit.version - 1,
        starts=visit.busy_from if room else visit.starts,
        ends=visit.busy_until if room else visit.ends,
        title=title,
        place=visit.site.name if kind == FeedKind.CLIENT else f"{visit.site.name}, {visit.room.name}",
        status=_status(visit.status),
        changed=visit.changed_at or visit.booked_at,
    )


def group_entry(group: GroupVisit, kind: str) -> ical.Entry:
    """A group as it stands in the calendar of its clinician or its room."""
    room = kind == FeedKind.ROOM
    return ical.Entry(
        uid=ical.uid_of(group.public_id),
        sequence=group.version - 1,
        starts=group.busy_from if room else group.starts,
        ends=group.busy_until if room else group.ends,
        title=ical.BUSY if room else ical.TITLES["en"],
        place=f"{group.site.name}, {group.room.name}",
        status=ical.CANCELLED if group.called_off_at else ical.CONFIRMED,
        changed=group.called_off_at or group.at,
    )


def title_for(language: str) -> str:
    """The neutral title in a client's language (BCP 47)."""
    return ical.TITLES.get(language.split("-")[0].lower(), ical.TITLES["en"])


def _status(status: str) -> str:
    if status in _OFF:
        return ical.CANCELLED
    return ical.TENTATIVE if status == AppointmentStatus.PENDING else ical.CONFIRMED
