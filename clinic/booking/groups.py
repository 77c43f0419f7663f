"""Group visits: doors, and the reads that joining one and finding one need."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time
from uuid import UUID

from django.db.models import Count, F, Q, QuerySet

from clinic.booking import availability
from clinic.booking.models import Appointment, GroupPlace, GroupVisit, Room, VisitType
from clinic.booking.rules import grid as g
from clinic.booking.rules import openings as rules
from clinic.booking.taken import FULL, NOT_THERE, Taken
from clinic.booking.vocab import HOLDING
from clinic.people import looking
from clinic.people.models import Client, Site, Staff, User
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere, Refusal
from clinic.people.rules import zones
from clinic.people.vocab import Role

_HELD = Q(places__visits__status__in=HOLDING)
_RELATED = ("site", "clinician__user", "room", "visit_type")


@dataclass(frozen=True)
class Meeting:
    """A group that can be joined: its place among the openings, and how many places are left of how many."""

    group: GroupVisit
    left: int
    places: int
    reasons: tuple[str, ...] = ()


def counted(rows: QuerySet[GroupVisit]) -> QuerySet[GroupVisit]:
    """With `size`, how many places there are, and `held`, how many of them are taken."""
    return rows.select_related(*_RELATED).annotate(
        size=Count("places", distinct=True), held=Count("places__visits", filter=_HELD, distinct=True)
    )


def groups_for(user: User) -> QuerySet[GroupVisit]:
    """Groups a member of staff may see: a clinician their own, the desk and the lead those of their sites. With counts."""
    rows = counted(GroupVisit.objects.filter(site__in=sites_for(user).order_by()))
    if user.role == Role.CLINICIAN:
        return rows.filter(clinician__user=user)
    return rows if user.role in (Role.FRONT_DESK, Role.LEAD) else rows.none()


def group_for(user: User, public_id: UUID | str) -> GroupVisit:
    """One of them."""
    found = groups_for(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def coming_groups(user: User, now: datetime) -> QuerySet[GroupVisit]:
    """Those still to meet, the next first."""
    return groups_for(user).filter(ends__gt=now, called_off_at__isnull=True).order_by("starts", "pk")


def visits_of_group(group: GroupVisit) -> QuerySet[Appointment]:
    """The visits that hold a place of it, or held one, by place. No rights are asked here."""
    rows = Appointment.objects.filter(place__group=group).select_related("client", "place", "site")
    return rows.order_by("place__number", "pk")


def who_comes(user: User, group: GroupVisit) -> list[Appointment]:
    """Those visits, for somebody who may see the group; that each client's was looked at is noted."""
    rows = list(visits_of_group(group))
    for visit in rows:
        looking.note(user, visit.client_id)
    return rows


def on_day(site: Site, clinicians: Iterable[int], begin: datetime, end: datetime) -> list[GroupVisit]:
    """The groups of those clinicians that meet between two moments, in order. One query."""
    rows = GroupVisit.objects.filter(
        site=site, clinician__in=list(clinicians), starts__lt=end, ends__gt=begin, called_off_at__isnull=True
    )
    return list(counted(rows).order_by("starts", "pk"))


def meeting(site: Site, kind: VisitType, clinician_pk: int, start: datetime) -> GroupVisit | None:
    """The group of that kind that meets with the clinician at that moment. No rights are asked here."""
    rows = GroupVisit.objects.filter(
        site=site, visit_type=kind, clinician=clinician_pk, starts=start, called_off_at__isnull=True
    )
    return rows.select_related("room").first()


def free_place(group: GroupVisit, apart_from: int | None) -> GroupPlace | None:
    """The first place that no other visit holds. No rights are asked here."""
    held = Appointment.objects.filter(place__group=group, status__in=HOLDING)
    if apart_from is not None:
        held = held.exclude(pk=apart_from)
    return group.places.exclude(pk__in=held.values("place")).first()


def join(appointment: Appointment, room: Room | None) -> None:
    """Give it a free place of the group of its kind, clinician and time; all else as the group has it. Taken when there is
    none; Refusal `invalid` (400) for another room than the group's."""
    group = meeting(appointment.site, appointment.visit_type, appointment.clinician_id, appointment.starts)
    if group is None:
        raise Taken(NOT_THERE, appointment.clinician.name)
    if room is not None and room.pk != group.room_id:
        where = f"The group is in {group.room.name}."
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields={"room": where})
    place = free_place(group, appointment.pk)
    if place is None:
        raise Taken(FULL, "")
    appointment.place, appointment.room = place, group.room
    for name in ("starts", "ends", "busy_from", "busy_until"):
        setattr(appointment, name, getattr(group, name))


def open_groups(
    site: Site, kind: VisitType, clinicians: Iterable[int], grid: g.Grid, now: datetime, *, apart_from: Appointment | None
) -> list[GroupVisit]:
    """Groups of the kind on the grid with a place left, whose clinician is there, not begun, in order. Four queries."""
    people = list(clinicians)
    rows = counted(GroupVisit.objects.filter(
        site=site, visit_type=kind, clinician__in=people, starts__gte=max(now, grid.begin), ends__lte=grid.end,
        called_off_at__isnull=True,
    ))
    found = list(rows.filter(Q(held__lt=F("size")) | Q(pk=_group_of(apart_from))).order_by("starts", "pk"))
    nothing = availability.Busy({pk: [] for pk in people}, {}, [])
    there = availability.free_masks(grid, people, site, nothing) if found else {}
    return [
        row for row in found
        if not grid.touched([(row.busy_from, row.busy_until)]) & ~there[row.clinician_id]
    ]


def _group_of(visit: Appointment | None) -> int | None:
    return visit.place.group_id if visit is not None and visit.place is not None else None


def to_join(
    *, site: Site, kind: VisitType, people: dict[int, Staff], grid: g.Grid, now: datetime, client: Client | None,
    wish: rules.Wish, limit: int, apart_from: Appointment | None = None, hours: tuple[time, time] | None = None,
    weekdays: frozenset[int] = frozenset(),
) -> list[Meeting]:
    """Groups that the client can join, the best first, ranked like openings. Five queries."""
    taken = availability.busy([], [], client, grid.begin, grid.end, apart_from=apart_from).client if client else []
    by_key: dict[tuple[int, datetime], GroupVisit] = {}
    candidates = []
    for row in open_groups(site, kind, people, grid, now, apart_from=apart_from):
        local = row.starts.astimezone(zones.zone(site.zone))
        if any(g.overlaps((row.starts, row.ends), span) for span in taken) or not _wanted(local, hours, weekdays):
            continue
        by_key[row.clinician_id, row.starts] = row
        candidates.append(rules.Candidate(row.clinician_id, row.room_id, row.starts, local.date(), local.time(), 0))
    found = []
    for best, reasons in rules.rank(candidates, wish, limit):
        row = by_key[best.clinician, best.starts]
        found.append(Meeting(row, row.size - row.held, row.size, tuple(code for code in reasons if code != "no_gap")))   # type: ignore[attr-defined]
    return found


def _wanted(local: datetime, hours: tuple[time, time] | None, weekdays: frozenset[int]) -> bool:
    day: date = local.date()
    return (not weekdays or day.weekday() in weekdays) and (hours is None or hours[0] <= local.time() < hours[1])
