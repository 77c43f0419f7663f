"""How working hours were used, and whether the reassessments that come due fit into those ahead."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
from django.db.models import Count, F, Func, IntegerField, Q, Value

from clinic.booking import availability
from clinic.booking.models import Appointment, GroupVisit, VisitType
from clinic.booking.rules import grid as g
from clinic.booking.vocab import HOLDING, AppointmentStatus
from clinic.people.models import Staff, User
from clinic.people.queries import sites_for
from clinic.people.rules import zones
from clinic.people.vocab import Role
from clinic.visits.queries import overdue_list
from dashboards.read_models.hour_ticks import FIELDS, Lengths, Runs, Window, counted, inside, touched
from dashboards.read_models.practice_rows import HoursRow, LoadRow

BACK, AHEAD = 12, 12   # weeks
CELL_MINUTES = g.CELL // 60


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
    """The last `count` whole weeks by clinician and week, in the calendar of `zone`; seven queries with one site."""
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
    found: Counter[tuple[int, date]] = Counter()
    for lead, due, number in rows.order_by().values_list("episode__lead", "due").annotate(Count("pk")):
        found[lead, max(due - timedelta(days=due.weekday()), mondays[0])] += number
    return found


def _rows(
    user: User, clinician: Staff | None, mondays: Sequence[date], now: datetime, zone: str, *, ahead: bool
) -> list[HoursRow]:
    """Weeks of everybody; looking ahead, only what is left of them from now on counts."""
    people = people_of(user, clinician)
    rows = {person.pk: place for place, person in enumerate(people)}
    bounds = [zones.day_bounds(day, zone)[0] for day in [*mondays, mondays[-1] + timedelta(weeks=1)]]
    first = g.cell_of(bounds[0])
    begins = [g.cell_of(at) - first for at in bounds]
    gone = min(begins[-1], -int(-now.timestamp() // g.CELL) - first) if ahead else 0
    window = Window(first, begins[-1], tuple(begins[:-1]), gone)
    kinds = [(availability.length_of(kind).whole, kind.is_reassessment) for kind in VisitType.objects.all()]
    lengths = Lengths(
        min((length for length, _ in kinds), default=1), max((length for length, review in kinds if review), default=0)
    )
    away = availability.absences(rows, bounds[0], bounds[-1])
    found = counted(
        len(people), window, inside(_hours(user, rows, bounds[0], bounds[-1]), rows, window), touched(away, rows, window),
        *_visits(rows, window, bounds[0], bounds[-1]), lengths if ahead else replace(lengths, review=0),
    )
    minutes: list[list[list[int]]] = (found * [*[CELL_MINUTES] * (len(FIELDS) - 1), 1]).tolist()
    return [
        HoursRow(
            person.pk, person.name, day, **dict(zip(FIELDS, minutes[rows[person.pk]][week], strict=True)),
            review=lengths.review * CELL_MINUTES,
        )
        for person in people for week, day in enumerate(mondays)
    ]


def _hours(user: User, people: Iterable[int], begin: datetime, end: datetime) -> dict[int, list[g.Span]]:
    """Working hours at all of the user's sites: the same that openings are searched in. Two queries a site."""
    found: dict[int, list[g.Span]] = defaultdict(list)
    for site in sites_for(user):
        for who, spans in availability.hours(people, site, begin, end).items():
            found[who] += spans
    return found


class Tick(Func):
    """The number of a moment's 5-minute cell, that of its beginning or, with `up`, of its end; whole seconds on SQLite."""

    output_field = IntegerField()

    def __init__(self, moment: str, *, up: bool = False) -> None:
        super().__init__(F(moment), more=g.CELL - 1 if up else 0, cell=g.CELL)

    def as_postgresql(self, compiler: Any, connection: Any, **_: Any) -> Any:
        """Seconds since 1970 as PostgreSQL has them."""
        way = "ceil" if self.extra["more"] else "floor"
        return self.as_sql(compiler, connection, template=f"{way}(extract(epoch from %(expressions)s) / %(cell)s)::int")

    def as_sqlite(self, compiler: Any, connection: Any, **_: Any) -> Any:
        """Seconds since 1970 as SQLite has them."""
        template = "((CAST(strftime('%%%%s', %(expressions)s) AS INTEGER) + %(more)s) / %(cell)s)"
        return self.as_sql(compiler, connection, template=template)

    def get_db_converters(self, connection: Any) -> list[Any]:
        """None: both engines give whole numbers."""
        return []


def _visits(rows: Mapping[int, int], window: Window, begin: datetime, end: datetime) -> tuple[Runs, Runs]:
    """The ticks that visits and groups take, and those of no-shows; one query, read as numbers: there are very many."""
    ticks = (Tick("busy_from"), Tick("busy_until", up=True))
    found = Appointment.objects.filter(
        Q(status__in=HOLDING) | Q(status=AppointmentStatus.NOSHOW), clinician__in=list(rows), busy_from__lt=end,
        busy_until__gt=begin,
    ).order_by().values_list("clinician", "status", *ticks).union(
        GroupVisit.objects.filter(
            clinician__in=list(rows), called_off_at__isnull=True, busy_from__lt=end, busy_until__gt=begin
        ).order_by().values_list("clinician", Value(str(AppointmentStatus.BOOKED)), *ticks), all=True
    )
    table = np.array(
        [(rows[who], start, stop, status == AppointmentStatus.NOSHOW) for who, status, start, stop in found], dtype=int
    ).reshape(-1, 4)
    who, starts, stops, lost = table[:, 0], table[:, 1] - window.first, table[:, 2] - window.first, table[:, 3] > 0
    return Runs(who[~lost], starts[~lost], stops[~lost]), Runs(who[lost], starts[lost], stops[lost])
