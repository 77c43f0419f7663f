"""The book as the optimiser needs it: the visits that want a place, and what is free without them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta

from clinic.booking import availability
from clinic.booking.models import Appointment, Room, VisitType
from clinic.booking.queries import UPCOMING
from clinic.booking.rules import grid as g
from clinic.booking.rules.openings import Length
from clinic.booking.rules.places import LONGEST, Book, Job
from clinic.booking.vocab import HOLDING
from clinic.people.models import Site, Staff
from clinic.people.queries import clinicians_at
from clinic.people.rules import zones

BACK = 7   # days before the first closed day that are searched as well
RELATED = ("site", "client__site", "clinician__user", "room", "visit_type", "episode")


def displaced(site: Site, clinician: Staff | None, first_day: date, last_day: date, now: datetime) -> list[Appointment]:
    """The visits to come on those days, of one clinician or of everybody at the site. One query."""
    begin, end = zones.day_bounds(first_day, site.zone)[0], zones.day_bounds(last_day, site.zone)[1]
    rows = Appointment.objects.filter(
        site=site, status__in=UPCOMING, starts__lt=end, ends__gt=begin, starts__gte=now
    ).select_related(*RELATED)
    rows = rows if clinician is None else rows.filter(clinician=clinician)
    return list(rows.order_by("starts", "pk"))


def search_days(first_day: date, last_day: date, today: date) -> tuple[date, date]:
    """The days that are looked at for new places: a week before to `LONGEST` days after the first closed one."""
    return max(today, first_day - timedelta(days=BACK)), max(first_day + timedelta(days=LONGEST), last_day)


def book_of(
    site: Site, first_day: date, last_day: date, now: datetime, *, without: Sequence[Appointment] = (),
    closed: tuple[g.Span, Iterable[int]] | None = None,
) -> Book:
    """What is free on the local days first..last when the visits `without` are gone and, for the clinicians named in
    `closed`, its span as well. Six queries."""
    staff = [person.pk for person in clinicians_at(site)]
    rooms = list(Room.objects.filter(site=site).values_list("pk", flat=True))
    grid = g.days_grid(first_day, last_day, site.zone)
    taken = availability.busy(
        staff, rooms, None, grid.begin, grid.end, without={visit.pk for visit in without}
    )
    free = availability.free_masks(grid, staff, site, taken)
    if closed is not None:
        span, absent = closed
        shut = grid.touched([span])
        free |= {pk: free[pk] & ~shut for pk in absent if pk in free}
    shortest = min((availability.length_of(kind).whole for kind in VisitType.objects.all()), default=1)
    return Book(
        grid, site.zone, free, {pk: grid.full & ~grid.touched(taken.rooms[pk]) for pk in rooms}, now, shortest
    )


def jobs_of(visits: Sequence[Appointment], book: Book, *, anyone: bool) -> list[Job]:
    """The visits as the optimiser knows them. Without `anyone` each stays with its clinician. One query a kind of visit."""
    place = zones.zone(book.zone)
    kept = taken_by({visit.client_id for visit in visits}, book, without={visit.pk for visit in visits})
    rooms: dict[int, tuple[int, ...]] = {}
    jobs = []
    for visit in visits:
        if visit.visit_type_id not in rooms:
            suitable = availability.suitable_rooms(visit.site, visit.visit_type)
            rooms[visit.visit_type_id] = tuple(room.pk for room in suitable)
        local = visit.starts.astimezone(place)
        jobs.append(Job(
            visit.pk, visit.client_id, visit.clinician_id, local.date(), local.hour * 60 + local.minute,
            length_of(visit), rooms[visit.visit_type_id], visit.due_earliest, visit.due_latest,
            clinicians=None if anyone else frozenset({visit.clinician_id}), taken=tuple(kept[visit.client_id]),
        ))
    return jobs


def length_of(visit: Appointment) -> Length:
    """What this visit needs, in ticks; imported ones may last other than their type."""
    kind, minutes = visit.visit_type, int((visit.ends - visit.starts).total_seconds() // 60)
    return Length(g.ticks(kind.preparation_minutes), g.ticks(minutes), g.ticks(kind.cleanup_minutes))


def taken_by(clients: set[int], book: Book, *, without: set[int]) -> dict[int, list[g.Span]]:
    """The other visits of those clients while the book lasts. One query."""
    rows = Appointment.objects.filter(
        client__in=clients, status__in=HOLDING, starts__lt=book.grid.end, ends__gt=book.grid.begin
    ).values_list("pk", "client", "starts", "ends")
    found: dict[int, list[g.Span]] = defaultdict(list)
    for pk, client, starts, ends in rows:
        if pk not in without:
            found[client].append((starts.astimezone(UTC), ends.astimezone(UTC)))
    return found
