"""The client's own visits."""

from __future__ import annotations

from datetime import datetime
from uuid import UUID

from django.db.models import QuerySet

from clinic.booking.models import Appointment
from clinic.booking.queries import appointments_for
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import User
from clinic.people.queries import own_client
from clinic.people.refusal import NotThere

COMING = (AppointmentStatus.PENDING, AppointmentStatus.BOOKED)
PAST = (AppointmentStatus.ARRIVED, AppointmentStatus.CHECKED_IN, AppointmentStatus.FULFILLED, AppointmentStatus.NOSHOW)
HIDDEN = (AppointmentStatus.ENTERED_IN_ERROR, AppointmentStatus.PROPOSED, AppointmentStatus.WAITLIST)
MOST_PAST = 5


def my_visits(user: User) -> QuerySet[Appointment]:
    """All visits of the signed-in client, the newest first; without those entered by mistake."""
    client = own_client(user)
    return (
        appointments_for(user)
        .filter(client=client)
        .exclude(status__in=HIDDEN)
        .select_related("clinician", "visit_type", "site", "client__site")
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
