"""Doors and reads of booking. Each says who may see what; whoever may not gets NotThere."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta
from uuid import UUID

from django.db.models import QuerySet

from clinic.booking.models import Appointment, Change, Room, Series, SpecialHours, VisitType
from clinic.booking.rules.status import NEXT, why_not
from clinic.booking.search import Opening as Opening
from clinic.booking.search import openings as openings
from clinic.booking.vocab import HOLDING, AppointmentStatus, CancelReason, SeriesScope
from clinic.people import looking
from clinic.people.models import Client, Site, Staff, User
from clinic.people.queries import clinicians_at
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.reminders.models import Message

UNDO_FOR = timedelta(minutes=1)
LONGEST_DAY = timedelta(hours=26)   # one on which the clock is put back, with room to spare
UPCOMING = (AppointmentStatus.PENDING, AppointmentStatus.BOOKED)
_RELATED = ("site", "client", "clinician", "room", "visit_type")


def appointments_for(user: User) -> QuerySet[Appointment]:
    """Visits a person may see.

    Front desk and lead: those at their sites. A clinician: their own. A client: their own. The system: all.
    """
    rows = Appointment.objects.select_related(*_RELATED, "place__group")
    if not user.is_active:
        return rows.none()
    match user.role:
        case Role.FRONT_DESK | Role.LEAD:
            return rows.filter(site__staff__user=user)
        case Role.CLINICIAN:
            return rows.filter(clinician__user=user)
        case Role.CLIENT:
            return rows.filter(client__user=user)
        case Role.SYSTEM:
            return rows
    return rows.none()


def appointment_for(user: User, public_id: UUID | str) -> Appointment:
    """One visit the user may see."""
    found = appointments_for(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    looking.note(user, found.client_id)
    return found


def changes_for(user: User) -> QuerySet[Change]:
    """What the user did to visits they may see, the newest first."""
    rows = Change.objects.filter(by=user, appointment__in=appointments_for(user))
    return rows.select_related(*(f"appointment__{name}" for name in _RELATED))


def change_for(user: User, public_id: UUID | str) -> Change:
    """One change of the user's own."""
    found = changes_for(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def to_undo(user: User, now: datetime) -> list[Change]:
    """What the user can still take back: of the last minute, the newest change of each visit. One query."""
    rows: dict[int, Change] = {}
    for row in changes_for(user).filter(at__gt=now - UNDO_FOR)[:20]:
        rows.setdefault(row.appointment_id, row)
    return [row for row in rows.values() if row.undone_at is None]


def appointments_between(user: User, first: datetime | None, last: datetime | None) -> QuerySet[Appointment]:
    """Visits the user may see that start in first..last (last excluded), in order."""
    rows = appointments_for(user)
    if first is not None:
        rows = rows.filter(starts__gte=first)
    if last is not None:
        rows = rows.filter(starts__lt=last)
    return rows.order_by("starts", "pk")


def appointment_of(about: str) -> Appointment | None:
    """The visit that a message is about, for the outbox's check; None when it is gone."""
    kind, _, public_id = about.partition(":")
    return Appointment.objects.filter(public_id=public_id).first() if kind == "appointment" else None


def appointments_named(abouts: Iterable[str]) -> dict[str, Appointment]:
    """The same for many messages at once, by what each is about. One query."""
    keys = [about.partition(":")[2] for about in abouts if about.startswith("appointment:")]
    rows = Appointment.objects.filter(public_id__in=keys).select_related(*_RELATED)
    return {f"appointment:{row.public_id}": row for row in rows}


def in_scope(appointment: Appointment, scope: str, now: datetime) -> list[Appointment]:
    """The visits of its series that a change with that scope is for, those still to come, in order; itself for `this`.

    Refusal `invalid` (400) for a scope that is none.
    """
    if scope not in SeriesScope.values:
        sentence = "Say whether it is for this visit, this and later ones, or all."
        raise Refusal("invalid", sentence, status=400, fields={"scope": sentence})
    if scope == SeriesScope.THIS or appointment.series_id is None:
        return [appointment]
    since = appointment.starts if scope == SeriesScope.LATER else now
    rows = Appointment.objects.filter(series=appointment.series_id, status__in=UPCOMING, starts__gte=since)
    found = list(rows.select_related(*_RELATED).order_by("starts", "pk"))
    if not found:
        raise Refusal("wrong_status", "No visit of this series is still to come.", status=409)
    return found


def visits_in(series: Series) -> list[Appointment]:
    """Every visit of a series, in order. No rights are asked here."""
    return list(Appointment.objects.filter(series=series).select_related(*_RELATED).order_by("starts", "pk"))


def locked(appointment: Appointment) -> Appointment:
    """The same visit as it is now, locked until the transaction ends.

    Locked by itself and read afterwards: a read with joins that waits for the lock finds nothing on PostgreSQL when the visit
    was given another room or clinician meanwhile, because it looks again at the visit and not at what it is joined with.
    """
    list(Appointment.objects.select_for_update().filter(pk=appointment.pk).order_by().values("pk"))
    return Appointment.objects.select_related(*_RELATED).get(pk=appointment.pk)


def steps_for(appointment: Appointment, now: datetime) -> list[str]:
    """The statuses the visit can be marked with now, cancelling aside."""
    place = appointment.site.zone
    day, today = zones.day_in(appointment.starts, place), zones.day_in(now, place)
    return [
        status
        for status in NEXT[appointment.status]
        if status != AppointmentStatus.CANCELLED
        and why_not(appointment.status, status, starts=appointment.starts, day=day, now=now, today=today) is None
    ]


def can_cancel(appointment: Appointment) -> bool:
    """Whether the visit can still be cancelled."""
    return AppointmentStatus.CANCELLED in NEXT[appointment.status]


def reminder_due(visit: Appointment) -> datetime:
    """When its reminder is due: a day before by the clock where it takes place (common practice, no source)."""
    return zones.day_before(visit.starts, visit.site.zone)


def to_remind(now: datetime) -> list[Appointment]:
    """Visits that are a day away or nearer, of clients who have not been told of their time since then. Two queries."""
    visits = Appointment.objects.filter(status__in=UPCOMING, starts__gt=now, starts__lte=now + LONGEST_DAY)
    rows = list(visits.select_related(*_RELATED).order_by("starts", "pk"))
    told = Message.objects.filter(
        kind__in=("visit_booked", "visit_moved"), about__in=[f"appointment:{row.public_id}" for row in rows]
    ).values_list("about", "created")
    latest: dict[str, datetime] = {}
    for key, created in told:
        latest[key] = max(created, latest.get(key, created))
    dues = ((row, reminder_due(row)) for row in rows)
    return [row for row, due in dues if due <= now and latest.get(f"appointment:{row.public_id}", due) <= due]


def visits_of(user: User, client: Client, now: datetime) -> tuple[list[Appointment], list[Appointment]]:
    """Up to ten coming visits of a client, soonest first, and the last five; of what the user may see. Two queries."""
    rows = appointments_for(user).filter(client=client).exclude(cancel_reason=CancelReason.OFFER)
    coming = rows.filter(ends__gt=now).exclude(status=AppointmentStatus.ENTERED_IN_ERROR).order_by("starts", "pk")
    return list(coming[:10]), list(rows.filter(ends__lte=now).order_by("-starts", "-pk")[:5])


def visit_types() -> QuerySet[VisitType]:
    """Every visit type, by name."""
    return VisitType.objects.all()


def special_hours(site: Site, now: datetime) -> QuerySet[SpecialHours]:
    """Closed days and extra hours of a site that are still to come, in order."""
    return SpecialHours.objects.filter(site=site, ends__gt=now).select_related("clinician").order_by("starts", "pk")


def special_hours_for(user: User, public_id: UUID | str) -> SpecialHours:
    """One closed day or extra hours of a site the user works at."""
    found = SpecialHours.objects.filter(site__staff__user=user, public_id=public_id).select_related("clinician").first()
    if found is None:
        raise NotThere
    return found


def usual_kind(client: Client) -> VisitType | None:
    """The kind of the client's last visit that was no reassessment; else one that clients book themselves, else any."""
    last = Appointment.objects.filter(client=client, status__in=HOLDING, visit_type__is_reassessment=False)
    row = last.select_related("visit_type").order_by("-starts").first()
    return row.visit_type if row else VisitType.objects.order_by("-clients_may_book", "name").first()


def visit_type(code: str) -> VisitType:
    """The visit type with that code."""
    found = VisitType.objects.filter(code=code).first()
    if found is None:
        raise NotThere
    return found


def room_at(site: Site, name: str) -> Room:
    """The room of that name at the site."""
    found = Room.objects.filter(site=site, name=name).first()
    if found is None:
        raise NotThere
    return found


def bookable_clinicians(user: User, site: Site) -> QuerySet[Staff]:
    """Whom the user may book for: a clinician for themselves, everybody else for every clinician of the site."""
    rows = clinicians_at(site)
    return rows.filter(user=user) if user.role == Role.CLINICIAN else rows


def bookable_clinician(user: User, site: Site, public_id: UUID | str) -> Staff:
    """One clinician the user may book for."""
    found = bookable_clinicians(user, site).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def clinician_mailed(email: str) -> Staff | None:
    """The active clinician with that mail address. No rights are asked here: for whoever runs the installation."""
    rows = Staff.objects.filter(user__email=email.strip().lower(), user__role=Role.CLINICIAN, user__is_active=True)
    return rows.first()


def next_visits(client_pks: Iterable[int], now: datetime) -> dict[int, Appointment]:
    """The next visit in the book of each client. One query."""
    rows = Appointment.objects.filter(client__in=list(client_pks), status__in=UPCOMING, starts__gte=now)
    found: dict[int, Appointment] = {}
    for row in rows.select_related(*_RELATED).order_by("starts", "pk"):
        found.setdefault(row.client_id, row)
    return found
