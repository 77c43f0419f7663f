"""How working hours were used, and whether the reassessments that come due fit into those ahead."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from clinic.booking import availability
from clinic.booking.models import Appointment, VisitType
from clinic.booking.rules import grid as g
from clinic.booking.vocab import AppointmentStatus
from clinic.people.models import Staff, User
from clinic.people.queries import sites_for
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits.queries import overdue_list
from dashboards.read_models.practice_rows import HoursRow, LoadRow

BACK, AHEAD = 12, 12   # weeks
CELL_MINUTES = g.CELL // 60
Spans = Mapping[int, list[g.Span]]


@dataclass(frozen=True, slots=True)
class _Book:
    """What the weeks are worked out from: spans by clinician, and lengths of visits in ticks."""

    hours: Spans
    away: Spans
    busy: Spans
    missed: Spans
    shortest: int
    review: int


def people_of(user: User, clinician: Staff | None = None) -> list[Staff]:
    """Whose hours: a clinician's own, the lead's chosen one or all clinicians of the lead's sites, by name; one query."""
    rows = Staff.objects.filter(sites__in=sites_for(user).order_by(), user__role=Role.CLINICIAN, user__is_active=True)
    if user.role == Role.CLINICIAN:
        rows = rows.filter(user=user)
    elif user.role != Role.LEAD:
        return []
    elif clinician:
        rows = rows.filter(pk=clinician.pk)
    return list(rows.distinct().order_by("name", "pk"))


def hours_used(user: User, now: datetime, zone: str, clinician: Staff | None = None, count: int = BACK) -> list[HoursRow]:
    """The last `count` whole weeks by clinician and week, in the calendar of `zone`; eight queries with one site."""
    monday = _monday(now, zone)
    return _rows(user, clinician, [monday - timedelta(weeks=back) for back in range(count, 0, -1)], now, zone, ahead=False)


def review_load(user: User, now: datetime, zone: str, clinician: Staff | None = None, count: int = AHEAD) -> list[LoadRow]:
    """This week from now on and those after it: what comes due against the places left; eight queries with one site.

    A reassessment stays with the clinician who leads the episode. Overdue ones are due this week.
    """
    monday = _monday(now, zone)
    mondays = [monday + timedelta(weeks=week) for week in range(count)]
    hours = _rows(user, clinician, mondays, now, zone, ahead=True)
    due = _due(user, zones.day_in(now, zone), mondays)
    found, over = [], Counter[int]()
    for row in hours:
        coming = due[row.key, row.monday]
        over[row.key] = max(0, over[row.key] + coming - row.places)
        found.append(
            LoadRow(row.key, row.clinician, row.monday, row.open, row.used, row.places, coming, row.review, over[row.key])
        )
    return found


def _monday(now: datetime, zone: str) -> date:
    today = zones.day_in(now, zone)
    return today - timedelta(days=today.weekday())


def _due(user: User, today: date, mondays: Sequence[date]) -> Counter[tuple[int, date]]:
    """Open reassessments without a visit by (clinician who leads the episode, week they are due in); one query."""
    rows = overdue_list(user, today, None).filter(appointment__isnull=True, due__lt=mondays[-1] + timedelta(weeks=1))
    return Counter(
        (lead, max(due - timedelta(days=due.weekday()), mondays[0]))
        for lead, due in rows.values_list("episode__lead", "due")
    )


def _rows(
    user: User, clinician: Staff | None, mondays: Sequence[date], now: datetime, zone: str, *, ahead: bool
) -> list[HoursRow]:
    """Weeks of everybody; looking ahead, only what is left of them from now on counts."""
    people = people_of(user, clinician)
    bounds = [(zones.day_bounds(day, zone)[0], zones.day_bounds(day + timedelta(weeks=1), zone)[0]) for day in mondays]
    first = g.cells(bounds[0][0], bounds[-1][1])
    grid = g.Grid(first.start, len(first))
    book = _book(user, [person.pk for person in people], grid)
    gone = grid.touched([(grid.begin, now)]) if ahead else 0
    weeks = [(day, grid.touched([span]) & ~gone) for day, span in zip(mondays, bounds, strict=True)]
    review = book.review if ahead else 0
    return [row for person in people for row in _weeks_of(person, book, grid, weeks, review)]


def _book(user: User, people: Sequence[int], grid: g.Grid) -> _Book:
    """Hours (two queries a site), sites, absences, visits with groups, no-shows and visit types."""
    hours: dict[int, list[g.Span]] = defaultdict(list)
    for site in sites_for(user):   # the same hours that openings are searched in
        for who, spans in availability.hours(people, site, grid.begin, grid.end).items():
            hours[who] += spans
    busy = availability.busy(people, [], None, grid.begin, grid.end).clinicians   # visits, and groups
    missed: dict[int, list[g.Span]] = defaultdict(list)
    visits = Appointment.objects.filter(
        status=AppointmentStatus.NOSHOW, clinician__in=people, busy_from__lt=grid.end, busy_until__gt=grid.begin
    ).order_by()
    for who, begins, ends in visits.values_list("clinician", "busy_from", "busy_until"):
        missed[who].append((begins, ends))
    kinds = [(availability.length_of(kind).whole, kind.is_reassessment) for kind in VisitType.objects.all()]
    return _Book(
        hours, availability.absences(people, grid.begin, grid.end), busy, missed,
        min((length for length, _ in kinds), default=1), max((length for length, review in kinds if review), default=0),
    )


def _weeks_of(
    person: Staff, book: _Book, grid: g.Grid, weeks: Iterable[tuple[date, int]], review: int
) -> Iterable[HoursRow]:
    """One clinician's weeks, by masks of 5-minute ticks. `review` ticks make a place, 0 looks for none."""
    busy = grid.touched(book.busy[person.pk])
    hours = grid.covered(book.hours[person.pk]) & ~grid.touched(book.away[person.pk])
    missed = grid.touched(book.missed[person.pk]) & hours & ~busy
    left = hours & ~busy & ~missed
    usable = _spread(g.free_runs(left, book.shortest), book.shortest)
    for day, week in weeks:
        yield HoursRow(
            person.pk, person.name, day, _minutes(hours & week), _minutes(busy & hours & week), _minutes(missed & week),
            _minutes(left & ~usable & week), _minutes(usable & week), _minutes(busy & ~hours & week),
            _places(left & week, review), book.review * CELL_MINUTES,
        )


def _minutes(mask: int) -> int:
    return mask.bit_count() * CELL_MINUTES


def _spread(starts: int, length: int) -> int:
    """Every tick of the runs of `length` ticks that begin at `starts`."""
    done = 1
    while done < length:
        step = min(done, length - done)
        starts |= starts << step
        done += step
    return starts


def _places(free: int, length: int) -> int:
    """How many visits of `length` ticks fit one after another into the free runs; 0 for a practice without such a visit."""
    count = 0
    while length and (runs := g.free_runs(free, length)):
        begin = (runs & -runs).bit_length() - 1
        free = free >> (begin + length)
        count += 1
    return count
