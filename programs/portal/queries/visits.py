"""The client's own visits."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from clinic.booking.models import Appointment, VisitType
from clinic.booking.queries import Opening, appointments_for, openings
from clinic.booking.rules.notice import is_short
from clinic.booking.vocab import AppointmentStatus, CancelReason
from clinic.people.models import User
from clinic.people.queries import open_episode, own_client
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules.zones import day_in

COMING = (AppointmentStatus.PENDING, AppointmentStatus.BOOKED)
PAST = (AppointmentStatus.ARRIVED, AppointmentStatus.CHECKED_IN, AppointmentStatus.FULFILLED, AppointmentStatus.NOSHOW)
HIDDEN = (AppointmentStatus.ENTERED_IN_ERROR, AppointmentStatus.PROPOSED, AppointmentStatus.WAITLIST)
MOST_PAST = 5
MOVE_DAYS = 41      # how far ahead a client can move a visit
MOST_OPENINGS = 12


def my_visits(user: User) -> QuerySet[Appointment]:
    """All visits of the signed-in client, the newest first; without those entered by mistake."""
    client = own_client(user)
    return (
        appointments_for(user)
        .filter(client=client)
        .exclude(status__in=HIDDEN)
        .exclude(cancel_reason=CancelReason.OFFER)   # an offer that was not taken never was a visit
        .select_related("clinician", "visit_type", "site", "client__site", "offer")
        .order_by("-starts", "-pk")
    )


def coming_visits(user: User, now: datetime) -> QuerySet[Appointment]:
    """Visits still to come, the next one first."""
    return my_visits(user).filter(status__in=COMING, ends__gt=now).order_by("starts", "pk")


def past_visits(user: User, now: datetime, most: int = MOST_PAST) -> list[Appointment]:
    """The last few visits that took place, or should have."""
    return list(my_visits(user).filter(ends__lte=now, status__in=(*PAST, *COMING))[:most])


def my_visit(user: User, public_id: UUID) -> Appointment:
    """One visit of the signed-in client. NotThere for anybody else's."""
    visit = my_visits(user).filter(public_id=public_id).first()
    if visit is None:
        raise NotThere
    return visit


def inside_notice(visit: Appointment, now: datetime) -> bool:
    """Whether only the desk can still change the visit. A time that waits for a yes can be answered until it begins."""
    return visit.status == AppointmentStatus.BOOKED and is_short(visit.starts, visit.site.notice_hours, now)


def check_notice(visit: Appointment, now: datetime) -> None:
    """Refusal `inside_notice` (409) with notice_hours= and phone= for such a visit."""
    if inside_notice(visit, now):
        raise Refusal(
            "inside_notice", "It is too late to change this visit here. Please ring us: the desk can still do it.",
            status=409, notice_hours=visit.site.notice_hours, phone=visit.site.phone,
        )


def own_kinds() -> list[VisitType]:
    """The kinds of visit that clients book themselves."""
    return list(VisitType.objects.filter(clients_may_book=True))


def own_kind(code: str) -> VisitType:
    """One of them; the first without a code. NotThere when there is none."""
    found = next((kind for kind in own_kinds() if code in ("", kind.code)), None)
    if found is None:
        raise NotThere
    return found


def openings_to_book(user: User, kind: VisitType, now: datetime, most: int | None = MOST_OPENINGS) -> list[Opening]:
    """Times the client can book, in order: with who leads their episode, else with anyone; from tomorrow to six weeks on."""
    client = own_client(user)
    episode = open_episode(client)
    first = day_in(now, client.site.zone) + timedelta(days=1)
    found = openings(
        site=client.site, visit_type=kind, first_day=first, last_day=first + timedelta(days=MOVE_DAYS), now=now,
        clinician=episode.lead if episode and not kind.is_group else None, client=client, limit=most or 10_000,
    )
    return sorted(found, key=lambda row: row.starts)


def openings_to_move(visit: Appointment, now: datetime, most: int | None = MOST_OPENINGS) -> list[Opening]:
    """Times the visit can move to, with the same clinician (of a group with any), from tomorrow to six weeks on, in order;
    none for kinds that only the clinic moves."""
    if not visit.visit_type.clients_may_book:
        return []
    first = day_in(now, visit.site.zone) + timedelta(days=1)
    found = openings(
        site=visit.site, visit_type=visit.visit_type, first_day=first, last_day=first + timedelta(days=MOVE_DAYS), now=now,
        clinician=None if visit.visit_type.is_group else visit.clinician, client=visit.client,
        limit=most or 10_000, apart_from=visit,
    )
    return sorted((row for row in found if row.starts != visit.starts), key=lambda row: row.starts)
