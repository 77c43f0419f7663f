"""Taking time: the one way in which an appointment gets hold of its clinician, room and client."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any, TypeVar

from django.db import IntegrityError, connection
from django.db.models import Exists, OuterRef, Q, QuerySet

from clinic.booking import availability, groups, queries
from clinic.booking.models import Appointment, Claim, GroupPlace, GroupVisit, Room, VisitType
from clinic.booking.presence import Presence, presence
from clinic.booking.rules import grid as g
from clinic.booking.taken import FULL, NOT_THERE
from clinic.booking.taken import Taken as Taken
from clinic.booking.vocab import HOLDING, Resource
from clinic.people.models import Client, Site, Staff
from clinic.people.prepared import Prepared
from clinic.people.refusal import Refusal
from clinic.people.retrying import Broken
from clinic.people.rules import zones
from clinic.people.trouble import GoneMeanwhile

OFFERED = 3            # openings named in a refusal
OFFERED_WITHIN = 14    # days
Need = tuple[str, int, range]
WHERE, OWN, FROM, UNTIL = (-3_000_000_000 - number for number in range(4))   # holes of the query below


def _rooms(variant: str) -> QuerySet[Room, Any]:
    """The rooms of a site, and whether another visit has claimed any of the cells."""
    claims = Claim.objects.filter(resource=Resource.ROOM, resource_id=OuterRef("pk"), cell__gte=FROM, cell__lt=UNTIL)
    rows = Room.objects.filter(site=WHERE).annotate(held=Exists(claims.exclude(appointment=OWN)))
    return rows.values_list("pk", "name", "features", "held")


_ROOMS = Prepared(_rooms)
Row = TypeVar("Row", bound=Appointment | list[GroupVisit])


@dataclass(frozen=True)
class Asked:
    """What was asked for, to offer the next openings of the same kind."""

    site: Site
    visit_type: VisitType
    clinician: Staff
    client: Client | None
    start: datetime
    now: datetime
    moving: Appointment | None = None


def needs(appointment: Appointment) -> list[Need]:
    """The cells an appointment holds: clinician and room with preparation and clean-up, the client without. Of a group the
    clinician and the room are the group's."""
    client = (Resource.CLIENT, appointment.client_id, g.cells(appointment.starts, appointment.ends))
    return [client] if appointment.place_id else [*shared(appointment), client]


def shared(visit: Appointment | GroupVisit) -> list[Need]:
    """What a visit, or a group, holds of its clinician and its room."""
    around = g.cells(visit.busy_from, visit.busy_until)
    return [(Resource.CLINICIAN, visit.clinician_id, around), (Resource.ROOM, visit.room_id, around)]


def lock(clinician_pks: Iterable[int], client: Client | None, site: Site) -> None:
    """Queue up behind others who book the same people or rooms, always in this order, so that nobody deadlocks.

    Only a courtesy on PostgreSQL (SQLite has one writer at a time): the constraints decide. One statement, and no row
    is written for it; a room is chosen among those of a site, so that the site stands for its rooms.
    """
    if connection.vendor != "postgresql":
        return
    keys = [(1, pk) for pk in sorted(set(clinician_pks))] + ([(2, client.pk)] if client else []) + [(3, site.pk)]
    with connection.cursor() as cursor:
        cursor.execute(
            "SELECT " + ", ".join(["pg_advisory_xact_lock(%s, %s)"] * len(keys)),
            [number for kind, pk in keys for number in (kind, pk % 2**31)],
        )


class Clash(Broken):
    """The database refused an appointment, or a group, or its claims."""

    def __init__(self, appointment: Appointment | GroupVisit, key: int | None, wanted: list[Need]) -> None:
        super().__init__(key)
        self.appointment, self.key, self.wanted = appointment, key, wanted

    def reason(self) -> Exception:
        """Taken, naming who is in the way; a Refusal; or what a retry answers: the clash has gone meanwhile."""
        resource = in_the_way(self.wanted, self.key) if self.wanted else None
        return Taken(resource, _name(self.appointment, resource)) if resource else _other(self.appointment, self.key)


def take(appointment: Appointment) -> None:
    """Save the appointment and write its claims, giving up older ones. A clash ends the transaction with Taken."""
    wanted, key = needs(appointment) if appointment.status in HOLDING else [], appointment.pk
    try:
        if key:
            release(appointment)
        appointment.offset_minutes = zones.offset_minutes(appointment.starts, appointment.site.zone)
        appointment.save()
        Claim.objects.bulk_create(
            Claim(appointment=appointment, resource=resource, resource_id=key, cell=cell)
            for resource, key, cells in wanted
            for cell in cells
        )
    except IntegrityError as error:
        raise Clash(appointment, key, wanted) from error


def hold(group: GroupVisit) -> None:
    """Save a new group and write the claims on its clinician and room. A clash ends the transaction with Taken."""
    wanted = shared(group)
    try:
        group.save()
        GroupPlace.objects.bulk_create(
            GroupPlace(group=group, number=number) for number in range(1, group.visit_type.places + 1)
        )
        Claim.objects.bulk_create(
            Claim(group=group, resource=resource, resource_id=key, cell=cell)
            for resource, key, cells in wanted for cell in cells
        )
    except IntegrityError as error:
        raise Clash(group, None, wanted) from error


def release(appointment: Appointment) -> None:
    """Give up every claim of an appointment."""
    Claim.objects.filter(appointment=appointment).delete()


def in_the_way(wanted: list[Need], apart_from: int | None) -> str | None:
    """The first resource of clinician, room, client that another appointment holds."""
    clash = Q()
    for resource, key, cells in wanted:
        clash |= Q(resource=resource, resource_id=key, cell__gte=cells.start, cell__lt=cells.stop)
    rows = Claim.objects.filter(clash)
    if apart_from is not None:
        rows = rows.exclude(appointment=apart_from)
    found = set(rows.values_list("resource", flat=True).distinct())
    return next((resource for resource, _, _ in wanted if resource in found), None)


def settle(appointment: Appointment, room: Room | None = None, *, first: Room | None = None) -> None:
    """Where it takes place: in `room`, or any free suitable one, `first` if that is free; of a kind with places, in the group
    that meets then. Taken when there is nothing."""
    if appointment.visit_type.is_group:
        groups.join(appointment, room)
        return
    appointment.place = None
    if room is not None:
        appointment.room = room
    else:
        choose_room(appointment, first)


def choose_room(appointment: Appointment | GroupVisit, first: Room | None = None) -> None:
    """Give the appointment a free suitable room, `first` if that one is free. Taken when none is. One query."""
    around = g.cells(appointment.busy_from, appointment.busy_until)
    own = appointment.pk if isinstance(appointment, Appointment) else None
    found = _ROOMS.rows(
        also={WHERE: appointment.site_id, OWN: own or 0, FROM: around.start, UNTIL: around.stop}
    )
    held = {Room(pk=pk, site=appointment.site, name=name, features=features): held for pk, name, features, held in found}
    rooms = _suitable(held, appointment.visit_type)
    free = [room for room in rooms if not held[room]]
    appointment.room = next((room for room in free if room == first), free[0]) if free else rooms[0]
    if not free:
        wanted = needs(appointment) if isinstance(appointment, Appointment) else shared(appointment)
        resource = in_the_way(wanted, own) or Resource.ROOM
        names = ", ".join(room.name for room in rooms)
        raise Taken(resource, names if resource == Resource.ROOM else _name(appointment, resource))


def any_room(appointment: Appointment) -> None:
    """Give the appointment the plainest suitable room, free or not: it takes no time of it."""
    appointment.room = _suitable(Room.objects.filter(site=appointment.site), appointment.visit_type)[0]


def _suitable(rooms: Iterable[Room], visit_type: VisitType) -> list[Room]:
    found = availability.plainest_first(rooms, visit_type)
    if not found:
        raise Refusal("no_room", "No room here has what this kind of visit needs.", status=409)
    return found


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


def presence_for(asked: Asked) -> Presence:
    """Whether the clinician is there around the start asked for. One query."""
    _, around = availability.spans_of(asked.visit_type, asked.start)
    return presence(asked.clinician, asked.site, around)


def check_hours(asked: Asked, there: Presence) -> None:
    """Refusal `outside_hours` (400) unless the clinician is there for the visit with its preparation and clean-up."""
    _, around = availability.spans_of(asked.visit_type, asked.start)
    if not there.all_of(around):
        raise Refusal(
            "outside_hours", f"{asked.clinician.name} is not working for all of that time.", status=400,
            fields={"start": f"{asked.clinician.name} is not working for all of that time."}, openings=offers(asked),
        )


def or_refuse(work: Callable[[], Row], asked: Asked) -> Row:
    """Run `work`; when the time is taken, Refusal `slot_taken` (409) naming the resource, with the next openings."""
    try:
        return work()
    except Taken as taken:
        sentence = {
            Resource.CLINICIAN: f"{taken.name} already has a visit at that time.",
            Resource.ROOM: f"No room is free at that time: {taken.name} is taken.",
            Resource.CLIENT: "This client already has a visit at that time.",
            NOT_THERE: f"No group of that kind meets with {taken.name} at that time.",
            FULL: "This group is full.",
        }[taken.resource]
        raise Refusal(
            "slot_taken", sentence, status=409, fields={"start": sentence}, taken=str(taken.resource),
            openings=offers(asked),
        ) from taken


def offers(asked: Asked) -> list[dict[str, Any]]:
    """The next openings of the same kind, the same clinician's first, as plain values."""
    first = max(zones.day_in(asked.start, asked.site.zone), zones.day_in(asked.now, asked.site.zone))
    return as_values(_offers(asked, first, asked.clinician) or _offers(asked, first, None))


def as_values(openings: Iterable[queries.Opening]) -> list[dict[str, Any]]:
    """Openings as a refusal carries them."""
    return [
        {
            "clinician": str(opening.clinician.public_id),
            "clinician_name": opening.clinician.name,
            "room": opening.room.name,
            "starts": opening.starts.isoformat(),
            "ends": opening.ends.isoformat(),
            **({} if opening.left is None else {"places_left": opening.left}),
        }
        for opening in openings
    ]


def _offers(asked: Asked, first: date, clinician: Staff | None) -> list[queries.Opening]:
    return queries.openings(
        site=asked.site, visit_type=asked.visit_type, first_day=first, last_day=first + timedelta(days=OFFERED_WITHIN),
        now=asked.now, clinician=clinician, client=asked.client, limit=OFFERED, apart_from=asked.moving,
    )


def _name(appointment: Appointment | GroupVisit, resource: str | None) -> str:
    names: dict[str, str] = {Resource.CLINICIAN: appointment.clinician.name, Resource.ROOM: appointment.room.name}
    return names.get(resource or "", "")


def _wrong(code: str, sentence: str) -> Refusal:
    return Refusal(code, sentence, status=400, fields={"start": sentence})


def _other(appointment: Appointment | GroupVisit, key: int | None) -> Exception:
    """What an integrity error is that is no clash in time: a number used twice, or a clash that has gone meanwhile."""
    others = Appointment.objects.exclude(pk=key) if key else Appointment.objects.all()
    ref = appointment.external_ref if isinstance(appointment, Appointment) else ""
    if ref and others.filter(site=appointment.site, external_ref=ref).exists():
        return Refusal(
            "number_taken", "A visit with this number is already there.", status=409,
            fields={"external_ref": "A visit with this number is already there."},
        )
    return GoneMeanwhile("the claim in the way has gone")
