"""Whether a clinician is there for a visit: all that decides it in one read, because every booking asks."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any, NamedTuple

from django.db import models
from django.db.models import Case, F, IntegerField, QuerySet, Value, When
from django.db.models.functions import Cast

from clinic.booking.models import Absence, SpecialHours, WorkingHours
from clinic.booking.rules import grid as g
from clinic.booking.rules import recurrence
from clinic.booking.rules.closing import covers, without
from clinic.people.models import Site, Staff
from clinic.people.prepared import Prepared
from clinic.people.rules import zones

WHO, WHERE = -4_000_000_000, -4_000_000_001   # holes of the query: a clinician, a site, and the local days asked about
BEGIN, END = (datetime(1900, 1, 2, 3, number, tzinfo=UTC) for number in (10, 20))
HERE, HOURS, SPECIAL, ABSENCE = range(4)


class Presence(NamedTuple):
    """Whether the clinician works at the site at all, and the open spans around the time asked about, absences cut out."""

    at_site: bool
    spans: list[g.Span]

    def all_of(self, span: g.Span) -> bool:
        """Whether the clinician is there for every cell of it."""
        cells = g.cells(*span)
        return covers(self.spans, (g.instant_of(cells.start), g.instant_of(cells.stop)))


def presence(clinician: Staff, site: Site, span: g.Span) -> Presence:
    """Of one clinician around `span`. One query."""
    first, last = (zones.day_in(at, site.zone) for at in span)
    begin, end = zones.day_bounds(first, site.zone)[0], zones.day_bounds(last, site.zone)[1]
    open_: list[g.Span] = []
    closed: list[g.Span] = []
    extra: list[g.Span] = []
    away: list[g.Span] = []
    at_site = False
    for row in _ROWS.rows(also={WHO: clinician.pk, WHERE: site.pk, BEGIN: begin, END: end}):
        kind, rule, first_day, starts, ends, begins, until, whose = row
        if kind == HERE:
            at_site = True
        elif kind == HOURS:
            open_ += recurrence.expand(rule, first_day, starts, ends, site.zone, first, last)
        elif kind == ABSENCE:
            away.append((begins, until))
        elif rule == "closed":
            closed.append((begins, until))
        elif whose == clinician.pk:
            extra.append((begins, until))
    return Presence(at_site, without(without(open_, closed) + extra, away))


def _row(
    kind: int, rule: Any = None, day: Any = None, starts: Any = None, ends: Any = None, begins: Any = None,
    until: Any = None, whose: Any = None,
) -> dict[str, Any]:
    """The columns that all four kinds of rows have in common; what a kind lacks is an empty cell of the right type."""

    def cell(given: Any, field: Callable[[], models.Field[Any, Any]]) -> Any:
        return Cast(Value(None) if given is None else given, field())

    return {
        "kind_": Value(kind, IntegerField()), "rule_": cell(rule, models.TextField), "day_": cell(day, models.DateField),
        "starts_": cell(starts, models.TimeField), "ends_": cell(ends, models.TimeField),
        "begins_": cell(begins, models.DateTimeField), "until_": cell(until, models.DateTimeField),
        "whose_": cell(whose, models.BigIntegerField),
    }


def _rows(variant: str) -> QuerySet[Any, Any]:
    closed = Case(When(is_open=False, then=Value("closed")), default=Value("extra"))
    there = Staff.sites.through.objects.filter(staff=WHO, site=WHERE).annotate(**_row(HERE))
    hours = WorkingHours.objects.filter(clinician=WHO, site=WHERE).annotate(
        **_row(HOURS, F("rule"), F("first_day"), F("starts"), F("ends"))
    )
    special = SpecialHours.objects.filter(site=WHERE, starts__lt=END, ends__gt=BEGIN).annotate(
        **_row(SPECIAL, closed, begins=F("starts"), until=F("ends"), whose=F("clinician"))
    )
    away = Absence.objects.filter(clinician=WHO, starts__lt=END, ends__gt=BEGIN).annotate(
        **_row(ABSENCE, begins=F("starts"), until=F("ends"))
    )
    names = list(_row(HERE))
    rest = [rows.order_by().values_list(*names) for rows in (hours, special, away)]
    return there.values_list(*names).union(*rest, all=True)


_ROWS = Prepared(_rows)
