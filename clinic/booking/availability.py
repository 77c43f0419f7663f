"""Loads what makes time free or taken, in a number of queries that does not grow with people, rooms or days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from django.db.models import BigIntegerField, Q, QuerySet, Value

from clinic.booking.models import Absence, Appointment, GroupVisit, Room, SpecialHours, VisitType, WorkingHours
from clinic.booking.rules import grid as g
from clinic.booking.rules import recurrence
from clinic.booking.rules.closing import without
from clinic.booking.rules.openings import Length
from clinic.booking.vocab import HOLDING
from clinic.people.models import Client, Site
from clinic.people.rules import zones

Spans = dict[int, list[g.Span]]


class Busy(NamedTuple):
    """Taken spans by clinician, by room, and of the one client asked about."""

    clinicians: Spans
    rooms: Spans
    client: list[g.Span]


def length_of(visit_type: VisitType) -> Length:
    """What a visit of this type needs, in ticks."""
    return Length(
        g.ticks(visit_type.preparation_minutes), g.ticks(visit_type.minutes), g.ticks(visit_type.cleanup_minutes)
    )


def spans_of(visit_type: VisitType, start: datetime, minutes: int | None = None) -> tuple[g.Span, g.Span]:
    """The visit itself, and the time its clinician and room are busy with it."""
    ends = start + timedelta(minutes=minutes or visit_type.minutes)
    before, after = timedelta(minutes=visit_type.preparation_minutes), timedelta(minutes=visit_type.cleanup_minutes)
    return (start, ends), (start - before, ends + after)


def hours(clinician_pks: Iterable[int], site: Site, begin: datetime, end: datetime) -> Spans:
    """Working hours at the site on every local day that begin..end touches, without closed days, with extra hours.
    Two queries."""
    first, last = zones.day_in(begin, site.zone), zones.day_in(end, site.zone)
    spans: Spans = defaultdict(list)
    wanted = set(clinician_pks)
    for row in WorkingHours.objects.filter(clinician__in=wanted, site=site):
        spans[row.clinician_id] += recurrence.expand(
            row.rule, row.first_day, row.starts, row.ends, site.zone, first, last
        )
    first_moment, last_moment = zones.day_bounds(first, site.zone)[0], zones.day_bounds(last, site.zone)[1]
    special = list(SpecialHours.objects.filter(site=site, starts__lt=last_moment, ends__gt=first_moment))
    closed = [(each.starts, each.ends) for each in special if not each.is_open]
    if closed:
        spans = defaultdict(list, {key: without(open_, closed) for key, open_ in spans.items()})
    for extra in special:
        if extra.clinician_id is not None and extra.clinician_id in wanted:
            spans[extra.clinician_id].append((extra.starts, extra.ends))
    return spans


def absences(clinician_pks: Iterable[int], begin: datetime, end: datetime) -> Spans:
    """Absences that touch begin..end. One query."""
    spans: Spans = defaultdict(list)
    rows = Absence.objects.filter(clinician__in=list(clinician_pks), starts__lt=end, ends__gt=begin)
    for clinician, starts, ends in rows.values_list("clinician", "starts", "ends"):
        spans[clinician].append((starts, ends))
    return spans


def busy(
    clinician_pks: Sequence[int], room_pks: Sequence[int], client: Client | None, begin: datetime, end: datetime,
    *, apart_from: Appointment | None = None, without: Collection[int] = (),
) -> Busy:
    """What visits take of begin..end, leaving one appointment, or the keys `without`, out. One query."""
    found = Busy(defaultdict(list), defaultdict(list), [])
    anyone = Q(clinician__in=clinician_pks) | Q(room__in=room_pks)
    if client is not None:
        anyone |= Q(client=client)
    left_out = set(without)
    if apart_from is not None:
        left_out.add(apart_from.pk)
    for key, who, room, whose, starts, ends, busy_from, busy_until in _taken(anyone, clinician_pks, room_pks, begin, end):
        if key in left_out:
            continue
        found.clinicians[who].append((busy_from, busy_until))
        found.rooms[room].append((busy_from, busy_until))
        if client is not None and whose == client.pk:
            found.client.append((starts, ends))
    return found


def _taken(
    anyone: Q, clinician_pks: Sequence[int], room_pks: Sequence[int], begin: datetime, end: datetime
) -> QuerySet[Appointment, tuple[Any, ...]]:
    """Rows of visits, and of groups, which have neither a visit's key nor a client."""
    during = Q(busy_from__lt=end, busy_until__gt=begin)
    spans = ("starts", "ends", "busy_from", "busy_until")
    visits = Appointment.objects.filter(anyone, during, status__in=HOLDING).order_by()
    groups = GroupVisit.objects.filter(
        Q(clinician__in=clinician_pks) | Q(room__in=room_pks), during, called_off_at__isnull=True
    ).order_by().annotate(nobody=Value(None, BigIntegerField()), no_key=Value(None, BigIntegerField()))
    return visits.values_list("pk", "clinician", "room", "client", *spans).union(
        groups.values_list("no_key", "clinician", "room", "nobody", *spans), all=True
    )


def free_masks(grid: g.Grid, clinician_pks: Sequence[int], site: Site, taken: Busy) -> dict[int, int]:
    """The free mask of each clinician: hours minus absences minus visits. Three queries."""
    open_, away = hours(clinician_pks, site, grid.begin, grid.end), absences(clinician_pks, grid.begin, grid.end)
    return {
        pk: grid.covered(open_[pk]) & ~grid.touched(away[pk]) & ~grid.touched(taken.clinicians[pk])
        for pk in clinician_pks
    }


def suitable_rooms(site: Site, visit_type: VisitType) -> list[Room]:
    """Rooms of the site with every feature the visit needs, the plainest first so that special ones stay free."""
    return plainest_first(Room.objects.filter(site=site), visit_type)


def plainest_first(rooms: Iterable[Room], visit_type: VisitType) -> list[Room]:
    """Those with every feature the visit needs, in the order in which they are given out."""
    need = set(visit_type.room_features)
    found = [room for room in rooms if need <= set(room.features)]
    return sorted(found, key=lambda room: (len(room.features), room.name, room.pk))
