"""A site's day, by clinician."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from clinic.booking import availability, groups
from clinic.booking.models import Appointment, GroupVisit
from clinic.booking.queries import appointments_for, bookable_clinicians
from clinic.booking.rules import grid as g
from clinic.booking.vocab import HOLDING, CancelReason
from clinic.people.models import Site, Staff, User
from clinic.people.rules import zones


@dataclass(frozen=True)
class Column:
    """One clinician's day: open spans (UTC), the visits in order, and the groups that meet."""

    clinician: Staff
    hours: list[g.Span]
    visits: list[Appointment]
    groups: list[GroupVisit]


@dataclass(frozen=True)
class DayBook:
    """A site's day. `coming` counts each visit on the day it starts, those in the book only."""

    site: Site
    day: date
    begin: datetime
    end: datetime
    columns: list[Column]
    coming: int


def day_book(user: User, site: Site, day: date) -> DayBook:
    """The day of a site by clinician, of what the user may see; a visit across midnight stands on both days.

    A clinician sees their own column. Six queries, however many visits.
    """
    begin, end = zones.day_bounds(day, site.zone)
    rows = appointments_for(user).filter(site=site, starts__lt=end, ends__gt=begin).order_by("starts", "pk")
    visits = list(rows.exclude(cancel_reason=CancelReason.OFFER))   # an offer that was not taken never was a visit
    staff = {person.pk: person for person in bookable_clinicians(user, site)}
    for visit in visits:
        staff.setdefault(visit.clinician_id, visit.clinician)
    hours = availability.hours(staff, site, begin, end - timedelta(seconds=1))
    away = availability.absences(staff, begin, end)
    grid = g.days_grid(day, day, site.zone)
    meeting = groups.on_day(site, staff, begin, end)
    columns = [
        Column(
            person,
            _spans(grid, grid.covered(hours[pk]) & ~grid.touched(away[pk])),
            [visit for visit in visits if visit.clinician_id == pk],
            [group for group in meeting if group.clinician_id == pk],
        )
        for pk, person in sorted(staff.items(), key=lambda item: (item[1].name, item[0]))
    ]
    coming = sum(visit.status in HOLDING and visit.starts >= begin for visit in visits)
    return DayBook(site, day, begin, end, columns, coming)


def _spans(grid: g.Grid, mask: int) -> list[g.Span]:
    """The runs of set bits as spans."""
    begins, ends = mask & ~(mask << 1), mask & ~(mask >> 1)
    step = timedelta(seconds=g.CELL)
    return [(start, end + step) for start, end in zip(grid.instants(begins), grid.instants(ends), strict=True)]
