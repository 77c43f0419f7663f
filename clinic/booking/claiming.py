"""Taking time: the one way in which an appointment gets hold of its clinician, room and client."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db import IntegrityError, OperationalError, transaction
from django.db.models import Q

from clinic.booking import availability, queries
from clinic.booking.models import Appointment, Claim, Room, VisitType
from clinic.booking.rules import grid as g
from clinic.booking.vocab import HOLDING, Resource
from clinic.people.models import Client, Site, Staff
from clinic.people.refusal import Refusal
from clinic.people.rules import zones

OFFERED = 3            # openings named in a refusal
OFFERED_WITHIN = 14    # days
Need = tuple[str, int, range]


class Taken(Exception):
    """Somebody else holds that time. Turned into a Refusal once the transaction is rolled back."""

    def __init__(self, resource: str, name: str) -> None:
        super().__init__(resource)
        self.resource = resource
        self.name = name


@dataclass(frozen=True)
class Asked:
    """What was asked for, to offer the next openings of the same kind."""

    site: Site
    visit_type: VisitType
    clinician: Staff
    client: Client
    start: datetime
    now: datetime
    moving: Appointment | None = None


def needs(appointment: Appointment) -> list[Need]:
    """The cells an appointment holds: clinician and room with preparation and clean-up, the client without."""
    around = g.cells(appointment.busy_from, appointment.busy_until)
    return [
        (Resource.CLINICIAN, appointment.clinician_id, around),
        (Resource.ROOM, appointment.room_id, around),
        (Resource.CLIENT, appointment.client_id, g.cells(appointment.starts, appointment.ends)),
    ]


def lock(clinician_pks: Iterable[int], client: Client, site: Site) -> None:
    """Queue up behind others who book the same people or rooms, always in this order, so that nobody deadlocks.

    Only a courtesy on PostgreSQL (SQLite has one writer at a time): the constraints decide.
    """
    list(Staff.objects.select_for_update(no_key=True).filter(pk__in=set(clinician_pks)).order_by("pk").values("pk"))
    list(Client.objects.select_for_update(no_key=True).filter(pk=client.pk).values("pk"))
    list(Room.objects.select_for_update(no_key=True).filter(site=site).order_by("pk").values("pk"))


def take(appointment: Appointment) -> None:
    """Save the appointment and write its claims, giving up older ones. Taken names who is in the way."""
    wanted = needs(appointment) if appointment.status in HOLDING else []
    try:
        with transaction.atomic():
            if appointment.pk:
                release(appointment)
            appointment.save()
            Claim.objects.bulk_create(
                Claim(appointment=appointment, resource=resource, resource_id=key, cell=cell)
                for resource, key, cells in wanted
                for cell in cells
            )
    except IntegrityError as error:
        resource = in_the_way(wanted, appointment.pk) if wanted else None
        if resource is None:
            _explain_other(appointment, error)
        raise Taken(resource or "", _name(appointment, resource)) from error


def release(appointment: Appointment) -> None:
    """Give up every claim of an appointment."""
    Claim.objects.filter(appointment=appointment).delete()


def in_the_way(wanted: list[Need], apart_from: int | None) -> str | None:
    """The first resource of clinician, room, client that another appointment holds."""
    clash = Q()
    for resource, key, cells in wanted:
        clash |= Q(resource=resource, resource_id=key, cell__gte=cells.start, cell__lt=cells.stop)
    found = set(Claim.objects.filter(clash).exclude(appointment=apart_from).values_list("resource", flat=True).distinct())
    return next((resource for resource, _, _ in wanted if resource in found), None)


def choose_room(appointment: Appointment, first: Room | None = None) -> None:
    """Give the appointment a free suitable room, `first` if that one is free. Taken when none is."""
    rooms = suitable(appointment)
    around = g.cells(appointment.busy_from, appointment.busy_until)
    held = set(
        Claim.objects.filter(resource=Resource.ROOM, cell__gte=around.start, cell__lt=around.stop)
        .exclude(appointment=appointment.pk).values_list("resource_id", flat=True).distinct()
    )
    free = [room for room in rooms if room.pk not in held]
    appointment.room = next((room for room in free if room == first), free[0]) if free else rooms[0]
    if not free:
        resource = in_the_way(needs(appointment), appointment.pk) or Resource.ROOM
        names = ", ".join(room.name for room in rooms)
        raise Taken(resource, names if resource == Resource.ROOM else _name(appointment, resource))


def suitable(appointment: Appointment) -> list[Room]:
    """The rooms it can be in. Refusal `no_room` when the site has none."""
    rooms = availability.suitable_rooms(appointment.site, appointment.visit_type)
    if not rooms:
        raise Refusal("no_room", "No room here has what this kind of visit needs.", status=409)
    return rooms


def check_start(start: datetime, now: datetime, *, past: bool = False) -> None:
    """Refusal `invalid`, `off_grid`, `in_the_past` or `too_far` (400) for a start that no visit can have."""
    if start.tzinfo is None:
        raise _wrong("invalid", "Say which zone the start is in.")
    if not g.on_grid(start):
        raise _wrong("off_grid", "Visits start on a full five minutes, such as 9:00 or 9:05.")
    if not past and g.cell_of(start) < g.cell_of(now):
        raise _wrong("in_the_past", "That time is already over.")
    if start > now + timedelta(days=731):
        raise _wrong("too_far", "That is more than two years ahead.")


def check_hours(asked: Asked) -> None:
    """Refusal `outside_hours` (400) unless the clinician is there for the visit with its preparation and clean-up."""
    _, around = availability.spans_of(asked.visit_type, asked.start)
    if not availability.works(asked.clinician.pk, asked.site, around):
        raise Refusal(
            "outside_hours", f"{asked.clinician.name} is not working for all of that time.", status=400,
            fields={"start": f"{asked.clinician.name} is not working for all of that time."}, openings=offers(asked),
        )


def or_refuse(work: Callable[[], Appointment], asked: Asked) -> Appointment:
    """Run `work`; when the time is taken, Refusal `slot_taken` (409) naming the resource, with the next openings."""
    try:
        return work()
    except Taken as taken:
        sentence = {
            Resource.CLINICIAN: f"{taken.name} already has a visit at that time.",
            Resource.ROOM: f"No room is free at that time: {taken.name} is taken.",
            Resource.CLIENT: "This client already has a visit at that time.",
        }[Resource(taken.resource)]
        raise Refusal(
            "slot_taken", sentence, status=409, fields={"start": sentence}, taken=str(taken.resource),
            openings=offers(asked),
        ) from taken


def offers(asked: Asked) -> list[dict[str, Any]]:
    """The next openings of the same kind, the same clinician's first, as plain values."""
    first = max(zones.day_in(asked.start, asked.site.zone), zones.day_in(asked.now, asked.site.zone))
    found = _offers(asked, first, asked.clinician) or _offers(asked, first, None)
    return [
        {
            "clinician": str(opening.clinician.public_id),
            "clinician_name": opening.clinician.name,
            "room": opening.room.name,
            "starts": opening.starts.isoformat(),
            "ends": opening.ends.isoformat(),
        }
        for opening in found
    ]


def _offers(asked: Asked, first: date, clinician: Staff | None) -> list[queries.Opening]:
    return queries.openings(
        site=asked.site, visit_type=asked.visit_type, first_day=first, last_day=first + timedelta(days=OFFERED_WITHIN),
        now=asked.now, clinician=clinician, client=asked.client, limit=OFFERED, apart_from=asked.moving,
    )


def _name(appointment: Appointment, resource: str | None) -> str:
    names: dict[str, str] = {Resource.CLINICIAN: appointment.clinician.name, Resource.ROOM: appointment.room.name}
    return names.get(resource or "", "")


def _wrong(code: str, sentence: str) -> Refusal:
    return Refusal(code, sentence, status=400, fields={"start": sentence})


def _explain_other(appointment: Appointment, error: IntegrityError) -> None:
    """An integrity error that is no clash in time: a number used twice, or a clash that has gone meanwhile."""
    twice = Appointment.objects.filter(site=appointment.site, external_ref=appointment.external_ref)
    if appointment.external_ref and twice.exclude(pk=appointment.pk).exists():
        raise Refusal(
            "number_taken", "A visit with this number is already there.", status=409,
            fields={"external_ref": "A visit with this number is already there."},
        ) from error
    raise OperationalError("the claim in the way has gone") from error
